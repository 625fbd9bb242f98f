"""Keeping photos: the file by its digest, the row by its key."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from jobs import journal
from jobs.happened import when
from jobs.models import Job, Photo
from jobs.photos.pictures import Picture
from jobs.refusals import NotThere
from jobs.use_case import use_case


@dataclass(frozen=True)
class Kept:
    """A photo on record."""

    photo_id: int
    job_id: int


@dataclass(frozen=True)
class PhotoLine:
    """A photo as it is listed."""

    photo_id: int
    job_id: int
    room_name: str
    note: str
    taken_at: datetime
    taken_by: str
    width: int
    height: int
    digest: str


def store(picture: Picture) -> None:
    """Put the file where its digest says; the same picture is stored once. Before the row, so that no row lacks it."""
    if not default_storage.exists(path_of(picture.digest)):
        default_storage.save(path_of(picture.digest), ContentFile(picture.jpeg))


def path_of(digest: str) -> str:
    """Where a picture lies: nothing that was sent, no name among it, has a part in the path."""
    return f"photos/{digest[:2]}/{digest}.jpg"


@use_case("keep_photo", private=("note",))
def keep_photo(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    digest: str,
    width: int,
    height: int,
    visit_id: int | None = None,
    room_name: str = "",
    note: str = "",
    taken_at: datetime | None = None,
) -> Kept:
    """
    Put a stored picture on the job's record.

    :raises NotThere: if there is no such job.
    """
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job with the id {job_id}.", where="job_id")
    row = Photo.objects.create(
        key=key,
        job=job,
        visit_id=visit_id,
        room_name=room_name.strip()[:60],
        note=note.strip()[:200],
        taken_at=when(taken_at, now),
        recorded_at=now,
        taken_by=actor,
        digest=digest,
        width=width,
        height=height,
    )
    journal.note(kind="photo_kept", actor=actor, now=now, job=job, happened_at=row.taken_at, data={"photo": row.pk})
    return Kept(row.pk, job.pk)


def photos_of(job_id: int, *, at_most: int = 60) -> tuple[PhotoLine, ...]:
    """The job's photos, the newest first (1 query)."""
    rows = Photo.objects.filter(job_id=job_id).select_related("taken_by").order_by("-taken_at", "-pk")[:at_most]
    return tuple(_line(row) for row in rows)


def photo(photo_id: int) -> PhotoLine | None:
    """One photo, or None (1 query). Whether the asker may see its job is the room's to say."""
    row = Photo.objects.filter(pk=photo_id).select_related("taken_by").first()
    return None if row is None else _line(row)


def _line(row: Photo) -> PhotoLine:
    by = row.taken_by.get_full_name() or row.taken_by.get_username()
    return PhotoLine(row.pk, row.job_id, row.room_name, row.note, row.taken_at, by, row.width, row.height, row.digest)
