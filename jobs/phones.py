"""Phone numbers: how they are kept, so that a number that calls again is known."""

import re


def digits(phone: str) -> str:
    """The ten digits of a US number, without its extension; fewer while it is being said."""
    number = re.split(r"x|ext", phone, maxsplit=1, flags=re.IGNORECASE)[0]
    found = re.sub(r"\D", "", number)
    return found[1:] if len(found) == 11 and found.startswith("1") else found


def whole(phone: str) -> bool:
    """Whether somebody can be called back on it."""
    return len(digits(phone)) == 10 or (phone.strip().startswith("+") and len(digits(phone)) >= 8)


def standard(phone: str) -> str:
    """`360-555-0100`; what is no whole US number stays as it is."""
    found = digits(phone)
    if len(found) != 10:
        return phone.strip()
    extension = re.search(r"(?:x|ext\.?)\s*(\d+)\s*$", phone, re.IGNORECASE)
    return f"{found[:3]}-{found[3:6]}-{found[6:]}" + (f" x{extension[1]}" if extension else "")
