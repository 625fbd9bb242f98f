"""Work that a worker process of the tests can do."""

from datetime import datetime

from django.contrib.auth.models import User

from jobs.due_work.registry import register


def greet(*, now: datetime, work_id: int, name: str) -> dict[str, str]:
    """Leave a trace that the test can see."""
    User.objects.create_user(name)
    return {"greeted": name}


register("greet", greet)
