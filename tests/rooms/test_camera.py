"""
The phone's camera: a unit's code read from the moving picture, and a photo made small on the phone before it is kept.

The picture is a fake capture of a code like those on our tags. A browser without a reader of codes gets one from the
test, which sees the very frame that the page sees; where the browser has its own, that one is used.
"""

import base64
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import segno
import time_machine
import zxingcpp
from PIL import Image
from playwright.sync_api import BrowserType, Page, expect

from dispatch.emergencies import Sent, send
from jobs.models import Photo
from jobs.stops import arrive_at_stop
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, Night
from tests.rooms import browser as by
from tests.rooms.conftest import ON_A_PHONE, PASSWORD

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.long]
NUMBER = "0001"
WIDTH, HEIGHT = 640, 480
READER = """
window.BarcodeDetector ??= class {
  static async getSupportedFormats() { return ["qr_code", "code_128"]; }
  async detect(video) {
    const size = { width: video.videoWidth, height: video.videoHeight };
    const canvas = Object.assign(document.createElement("canvas"), size);
    canvas.getContext("2d").drawImage(video, 0, 0);
    return (await window.readCodes(canvas.toDataURL("image/png"))).map((rawValue) => ({ rawValue }));
  }
};
"""


@pytest.fixture
def night(live_server: Any, settings: Any, tmp_path: Path) -> Iterator[Night]:
    settings.MEDIA_ROOT = tmp_path / "media"
    with time_machine.travel(NIGHT, tick=True):
        made = nights.night()
        user = made.empty.lead.user
        user.set_password(PASSWORD)
        user.save()
        yield made


@pytest.fixture
def sent(night: Night) -> Sent:
    made = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)
    by_lead = night.by(night.empty.lead.user)
    arrive_at_stop(**by_lead, visit_id=made.visit_id)
    return made


@pytest.fixture
def page(browser_type: BrowserType, browser_type_launch_args: dict[str, Any], tmp_path: Path) -> Iterator[Page]:
    capture = ["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream"]
    capture.append(f"--use-file-for-fake-video-capture={_film(tmp_path / 'tag.y4m')}")
    given = {**browser_type_launch_args, "args": [*browser_type_launch_args.get("args", []), *capture]}
    browser = browser_type.launch(**given)
    context = browser.new_context(reduced_motion="reduce", **ON_A_PHONE)
    made = context.new_page()
    made.expose_function("readCodes", _codes_in)
    made.add_init_script(READER)
    yield made
    browser.close()


def _film(path: Path) -> Path:
    """A tag's code before the camera, as uncompressed video (YUV4MPEG2, planar 4:2:0)."""
    drawn = BytesIO()
    segno.make(NUMBER, error="q", micro=False).save(drawn, kind="png", scale=10, border=4)
    code = Image.open(drawn).convert("L")
    frame = Image.new("L", (WIDTH, HEIGHT), 200)
    frame.paste(code, ((WIDTH - code.width) // 2, (HEIGHT - code.height) // 2))
    gray = bytes([128]) * (WIDTH * HEIGHT // 2)
    one = b"FRAME\n" + frame.tobytes() + gray
    path.write_bytes(f"YUV4MPEG2 W{WIDTH} H{HEIGHT} F10:1 Ip A1:1 C420jpeg\n".encode() + one * 10)
    return path


def _codes_in(data_url: str) -> list[str]:
    frame = Image.open(BytesIO(base64.b64decode(data_url.partition(",")[2]))).convert("L")
    return [found.text for found in zxingcpp.read_barcodes(np.asarray(frame))]


def stop_of(page: Page, address: str, night: Night, sent: Sent) -> None:
    by.sign_in(page, address, night.empty.lead.user.username, PASSWORD)
    page.goto(f"{address}/crew/stops/{sent.visit_id}")


def test_a_code_before_the_camera_is_typed_into_the_field_once(
    night: Night, sent: Sent, live_server: Any, page: Page
) -> None:
    stop_of(page, live_server.url, night, sent)
    field = page.locator("#numbers")
    scan = page.get_by_role("button", name="Scan with the camera").first
    scan.click()
    expect(page.locator("video.camera")).to_be_visible()
    expect(field).to_have_value(NUMBER)
    # The same tag stays before the camera for a while: it is one unit.
    page.wait_for_timeout(1_200)
    expect(field).to_have_value(NUMBER)
    assert page.locator("video.camera").evaluate("video => [video.videoWidth, video.videoHeight]") == [WIDTH, HEIGHT]
    by.targets_are_large(page)
    by.no_sideways_scroll(page)
    by.axe_clean(page)

    page.get_by_role("button", name="Close the camera").click()
    expect(page.locator("video.camera")).to_have_count(0)
    expect(field).to_be_focused()
    expect(scan).to_be_visible()


def test_without_a_camera_the_digits_are_typed(night: Night, sent: Sent, live_server: Any, page: Page) -> None:
    page.add_init_script(
        "navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('none', 'NotFoundError'));"
    )
    stop_of(page, live_server.url, night, sent)
    page.get_by_role("button", name="Scan with the camera").first.click()
    expect(page.get_by_role("button", name="The camera is not available: type the digits")).to_be_disabled()
    expect(page.locator("#numbers")).to_be_focused()


def twelve_megapixels() -> bytes:
    """A photo as a phone takes it: 4000 x 3000 points lying on its side, with where it was taken."""
    grain = np.random.default_rng(1).integers(0, 40, (3000, 4000, 3), dtype=np.uint8)
    points = grain + np.linspace(0, 200, 4000, dtype=np.uint8)[None, :, None]
    points[:300, :400] = (255, 0, 0)
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "Some phone"
    exif.get_ifd(0x8825).update({1: "N", 2: (45.0, 38.0, 12.0), 3: "W", 4: (122.0, 36.0, 3.0)})
    out = BytesIO()
    Image.fromarray(points).save(out, "JPEG", quality=90, exif=exif)
    return out.getvalue()


def test_a_photo_is_made_small_on_the_phone_and_says_no_place(
    night: Night, sent: Sent, live_server: Any, settings: Any, page: Page
) -> None:
    taken = twelve_megapixels()
    assert len(taken) > 2_000_000
    assert b"Some phone" in taken
    stop_of(page, live_server.url, night, sent)
    expect(page.locator("body[data-kept]")).to_be_attached()
    page.context.set_offline(True)
    page.locator("input[name=photo]").set_input_files(
        {"name": "IMG_0001.JPG", "mimeType": "image/jpeg", "buffer": taken}
    )
    # While it is made small nothing can be sent.
    expect(page.get_by_role("button", name="Keep photo")).to_be_enabled()
    small = bytes(
        page.evaluate(
            "document.querySelector('input[name=photo]').files[0].arrayBuffer().then(b => [...new Uint8Array(b)])"
        )
    )
    on_phone = Image.open(BytesIO(small))
    # Upright: the red corner that was at the top left of the lying picture is at the top right.
    assert on_phone.size == (1200, 1600)
    assert all(on_phone.getpixel(at)[0] > 200 for at in ((1195, 5), (1090, 150)))
    assert on_phone.getpixel((1195, 5))[1] < 60
    assert not on_phone.getexif()
    assert b"Some phone" not in small

    page.get_by_role("button", name="Keep photo").click()
    expect(page.locator("#outbox summary")).to_have_text("1 not yet sent")
    page.context.set_offline(False)
    expect(page.locator("#outbox")).to_be_hidden()
    row = Photo.objects.get()
    assert (row.width, row.height) == (1200, 1600)
    kept = next(settings.MEDIA_ROOT.rglob("*.jpg")).read_bytes()
    assert len(kept) <= len(taken) // 4
    assert Image.open(BytesIO(kept)).size == (1200, 1600)
    assert not Image.open(BytesIO(kept)).getexif()
