"""
What to say aloud for each hazard, and where that comes from.

Only what sources agree on is ever said as something to do; where they disagree, the caller is told to keep away.
Local codes, the utility and the fire department come before anything here.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Hazard:
    """One answer to "is anybody in danger?". `danger_first`: help is called before a crew is."""

    key: str
    label: str
    say: str
    source: str
    danger_first: bool = False


HAZARDS: tuple[Hazard, ...] = (
    Hazard(
        "injured",
        "someone hurt or trapped",
        "Call 911 first if you can. Then call us back, or stay on the line while someone else calls.",
        "common practice",
        danger_first=True,
    ),
    Hazard(
        "power_water",
        "water near power",
        "Do not step into a room where water may reach outlets, cords or appliances, and do not touch wet electrical "
        "equipment. Never work at the electrical panel while standing in water: if it cannot be reached dry, ask the "
        "utility to cut the power from outside.",
        "Ontario Ministry of Labour; EPA flood clean-up",
        danger_first=True,
    ),
    Hazard(
        "gas",
        "gas smell",
        "Leave the building now and touch no switch. Once you are outside, call 911 or the gas utility.",
        "from memory: standard public-safety advice",
        danger_first=True,
    ),
    Hazard(
        "ceiling",
        "ceiling sagging",
        "Keep everyone out of that room. Put nothing and nobody under the ceiling until the crew has looked at it.",
        "an insurer's published tips; sources disagree on anything beyond keeping out",
        danger_first=True,
    ),
    Hazard(
        "downed_line",
        "power line down",
        "Treat it as live. Stay at least 10 feet away, keep others away, and call 911 or the utility.",
        "OSHA advice as reported by a safety publisher",
        danger_first=True,
    ),
    Hazard(
        "sewage",
        "sewage or floodwater",
        "Stay out of the water. Keep children, anyone pregnant, and people with asthma or weak immunity away from it. "
        "Please use no drains or toilets in the building.",
        "EPA flood clean-up; drains: common practice",
    ),
    Hazard(
        "generator",
        "generator in use",
        "A generator runs outdoors only, at least 20 feet from the building with the exhaust pointing away: never in a "
        "garage, in a tent or on a porch.",
        "EPA bulletin 2017; CPSC",
    ),
    Hazard("mold", "mold in sight", "Please do not run any fans before the crew has looked at it.", "EPA"),
    Hazard("lead", "old paint (lead possible)", "Please do not sand, scrape or break anything painted.", "EPA"),
    Hazard(
        "asbestos",
        "old materials (asbestos possible)",
        "Please leave floors, ceilings and pipe covering as they are: do not break or pull anything out.",
        "EPA",
    ),
    Hazard(
        "confined_space",
        "crawl space or pit",
        "Please do not go into the crawl space or pit. The crew checks it first.",
        "common practice, OSHA 29 CFR 1910.146",
    ),
)
BY_KEY = {hazard.key: hazard for hazard in HAZARDS}
WORDS = {hazard.key: hazard.label for hazard in HAZARDS}

WHILE_WAITING = (
    "If it is safe: close the valve, take photographs, and lift small things off the wet floor. "
    "Please do not use a household vacuum on water, and throw nothing away before it is photographed."
)
WHILE_WAITING_SOURCE = "common practice; vacuum: a contractor's safety page"


def to_say(keys: list[str] | None) -> tuple[Hazard, ...]:
    """The hazards that were answered, those first for which help is called before a crew."""
    chosen = [BY_KEY[key] for key in keys or () if key in BY_KEY]
    return tuple(sorted(chosen, key=lambda hazard: not hazard.danger_first))
