"""The service worker of each room that works without a network: its own address, one script behind all of them."""

import json

from django.http import Http404, HttpRequest, HttpResponse
from django.templatetags.static import static
from django.views.decorators.http import require_GET

from jobs import access

OFFLINE_ROOMS = frozenset({"warehouse", "crew"})


@require_GET
def worker(request: HttpRequest, word: str) -> HttpResponse:
    """`/ROOM-worker.js`; it lies at the root, so that its scope can be the room's address."""
    room = next((room for room in access.ROOMS if room.word == word and word in OFFLINE_ROOMS), None)
    if room is None:
        raise Http404("This room has no worker.")
    said = {"name": room.word, "scope": room.address, "gone": static("not_kept.html"), "files": static("")}
    script = f"self.ROOM = {json.dumps(said)};\nimportScripts({json.dumps(static('room_worker.js'))});\n"
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})
