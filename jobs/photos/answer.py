"""A photo as a browser gets it: kept by no cache that others share."""

from django.core.files.storage import default_storage
from django.http import FileResponse

from jobs.photos.keep import PhotoLine, path_of


def photo_answer(line: PhotoLine) -> FileResponse:
    """
    The file of a photo.

    :raises FileNotFoundError: if the file is gone from the store.
    """
    answer = FileResponse(default_storage.open(path_of(line.digest)), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=86400, immutable"
    return answer
