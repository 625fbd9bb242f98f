"""The API of photos: those of a stop or a job, sending one, and the picture itself."""

from datetime import datetime
from typing import Any, BinaryIO, cast

from django.http import FileResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.crew import pages
from dispatch.crew.api import own_visit
from equipment.api.sizing import Either
from jobs import access, selectors
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.people import signed_in
from jobs.photos import keep
from jobs.photos.answer import photo_answer
from jobs.photos.pictures import made_small
from jobs.refusals import NotThere

DESK = frozenset({access.DISPATCHER, access.MANAGER})
FIELD = frozenset({access.CREW_LEAD, access.MANAGER})


class PhotoIn(serializers.Serializer[Any]):
    """A JPEG, PNG or WebP of at most 25 MB; its name, the place and the device in it are not kept."""

    photo = serializers.FileField(max_length=255)
    room_name = serializers.CharField(required=False, allow_blank=True, max_length=60)
    note = serializers.CharField(required=False, allow_blank=True, max_length=200)
    taken_at = serializers.DateTimeField(required=False)


class _Sending(UseCaseView):
    """Takes a photo as a form of several parts."""

    verbs = {"POST": "keep_photo"}
    parser_classes = [MultiPartParser]

    def keep_sent(self, request: Request, *, job_id: int, visit_id: int | None = None) -> Response:
        """Make the picture small, store it, and put it on the job's record."""
        sent = read(PhotoIn, request)
        file, taken_at = sent["photo"], cast(datetime | None, sent.get("taken_at"))
        picture = made_small(cast(BinaryIO, file), size=file.size or 0)
        keep.store(picture)
        kept = keep.keep_photo(
            job_id=job_id,
            visit_id=visit_id,
            digest=picture.digest,
            width=picture.width,
            height=picture.height,
            room_name=sent.get("room_name", ""),
            note=sent.get("note", ""),
            taken_at=taken_at,
            **self.common(request),
        )
        return self.answer(kept, status=201)


class StopPhotosView(_Sending):
    """Photos of the job of one's own stop; sending one."""

    roles = FIELD
    writers = FIELD

    @reads(keep.PhotoLine, many=True)
    def get(self, request: Request, visit_id: int) -> Response:
        return self.answer(keep.photos_of(own_visit(signed_in(request.user), visit_id).job_id))

    @writes({"multipart/form-data": PhotoIn}, keep.Kept, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit = own_visit(signed_in(request.user), visit_id)
        return self.keep_sent(request, job_id=visit.job_id, visit_id=visit_id)


class JobPhotosView(_Sending):
    """A job's photos; sending one that the desk got."""

    roles = DESK
    writers = DESK

    @reads(keep.PhotoLine, many=True)
    def get(self, request: Request, job_id: int) -> Response:
        selectors.job_facts(job_id)
        return self.answer(keep.photos_of(job_id))

    @writes({"multipart/form-data": PhotoIn}, keep.Kept, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        return self.keep_sent(request, job_id=job_id)


class PhotoView(UseCaseView):
    """One picture: for the desk, and for the lead on whose route its job is."""

    roles = DESK | FIELD
    content_negotiation_class = Either

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, photo_id: int) -> FileResponse:
        user, found = signed_in(request.user), keep.photo(photo_id)
        whole = bool(DESK & access.roles_of(user))
        if found is None or not (whole or pages.on_route(user=user, job_id=found.job_id, now=timezone.now())):
            raise NotThere(f"There is no photo {photo_id} for you.", where="photo_id")
        return photo_answer(found)
