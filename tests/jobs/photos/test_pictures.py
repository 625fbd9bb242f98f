"""What becomes of a picture: small, upright, without place or device; everything else is refused in a sentence."""

import struct
import zlib
from io import BytesIO

import pytest
from PIL import Image

from jobs.photos.pictures import MOST_BYTES, SIDE_POINTS, NoPicture, made_small

ORIENTATION, MAKER, GPS = 0x0112, 0x010F, 0x8825


def picture(kind: str = "JPEG", size: tuple[int, int] = (400, 300), **exif: object) -> bytes:
    """Left half black, right half white."""
    image = Image.new("RGB", size, "white")
    image.paste("black", (0, 0, size[0] // 2, size[1]))
    tags = Image.Exif()
    tags[MAKER] = "Pocket camera"
    tags[ORIENTATION] = exif.get("orientation", 1)
    if "lat" in exif:
        tags.get_ifd(GPS)[2] = exif["lat"]
    out = BytesIO()
    image.save(out, kind, exif=tags)
    return out.getvalue()


def small(data: bytes) -> Image.Image:
    return Image.open(BytesIO(made_small(BytesIO(data), size=len(data)).jpeg))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("size", [(400, 300), (4000, 3000), (300, 4000)])
def test_every_kind_becomes_a_small_jpeg_of_the_same_shape(kind: str, size: tuple[int, int]) -> None:
    kept = small(picture(kind, size))
    assert kept.format == "JPEG"
    assert max(kept.size) == min(max(size), SIDE_POINTS)
    assert kept.width / kept.height == pytest.approx(size[0] / size[1], rel=0.01)


def test_place_and_device_are_gone() -> None:
    data = picture(lat=(45.0, 38.0, 12.5))
    assert MAKER in Image.open(BytesIO(data)).getexif()
    assert dict(small(data).getexif()) == {}
    assert b"Pocket camera" not in made_small(BytesIO(data), size=len(data)).jpeg


def test_a_picture_is_turned_upright() -> None:
    # Orientation 6: the camera was held so that the picture's left side is up (EXIF 2.32, tag 274).
    kept = small(picture(orientation=6))
    assert kept.size == (300, 400)
    assert kept.getpixel((150, 20)) < (60, 60, 60)
    assert kept.getpixel((150, 380)) > (200, 200, 200)


def test_the_same_picture_has_the_same_digest() -> None:
    data = picture()
    assert made_small(BytesIO(data), size=1).digest == made_small(BytesIO(data), size=1).digest


def bomb(side: int) -> bytes:
    """A PNG of a few hundred bytes that claims side x side points (PNG specification, 11.2.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(99))) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "data",
    [
        b"", b"not a picture", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"%PDF-1.7", b"GIF89a" + bytes(40),
        picture()[:200], b"\xff\xd8\xff" + bytes(500), bomb(9_000), bomb(60_000),
    ],
)  # fmt: skip
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(NoPicture):
        made_small(BytesIO(data), size=len(data))


def test_a_file_that_is_too_large_is_refused_before_it_is_read() -> None:
    with pytest.raises(NoPicture, match="25"):
        made_small(BytesIO(picture()), size=MOST_BYTES + 1)
