"""From what a phone sends to what is kept: a JPEG of at most 1600 points a side, without the place and device in it."""

import hashlib
from dataclasses import dataclass
from io import BytesIO
from typing import BinaryIO

from PIL import Image, ImageOps, UnidentifiedImageError

from jobs.refusals import Refusal

MOST_BYTES = 25 * 1024 * 1024
# A picture of a few kilobytes can claim billions of points: what it claims is read before anything is unpacked.
MOST_POINTS = 80_000_000
SIDE_POINTS = 1600
QUALITY = 82
KINDS = ("JPEG", "PNG", "WEBP")


class NoPicture(Refusal):
    """What was sent is no picture that can be kept."""

    code = "no_picture"
    status = 422


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept; `digest` is the SHA-256 of `jpeg` in hexadecimal."""

    jpeg: bytes
    width: int
    height: int
    digest: str


def made_small(sent: BinaryIO, *, size: int) -> Picture:
    """
    The picture as it is kept, the same bytes for the same picture.

    :raises NoPicture: if it is too large, of another type, damaged, or claims more points than a camera takes.
    """
    if size > MOST_BYTES:
        raise NoPicture(f"This file has {size // 2**20} MB; at most {MOST_BYTES // 2**20} are taken.", where="photo")
    try:
        with Image.open(sent, formats=KINDS) as image:
            if image.width * image.height > MOST_POINTS:
                raise NoPicture("This picture claims more points than a camera takes.", where="photo")
            # Turned upright first: what says so is dropped with everything else that is not the picture.
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise NoPicture("This is no picture that can be read. Send a JPEG, PNG or WebP.", where="photo") from error
    upright.thumbnail((SIDE_POINTS, SIDE_POINTS))
    out = BytesIO()
    upright.save(out, "JPEG", quality=QUALITY, optimize=True)
    jpeg = out.getvalue()
    return Picture(jpeg, upright.width, upright.height, hashlib.sha256(jpeg).hexdigest())
