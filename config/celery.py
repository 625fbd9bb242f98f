"""Celery over Redis, when REDIS_URL is set. Redis carries wake-ups only; the rows in DueWork are the truth."""

import os
from typing import Any

from celery import Celery, signals

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
app = Celery("ebbline")


@signals.setup_logging.connect
def _logs_as_everywhere(**kwargs: Any) -> None:
    """Connected, so that Celery leaves alone what `settings.LOGGING` says."""


def _configure() -> None:
    from django.conf import settings

    app.conf.update(
        broker_url=settings.REDIS_URL or "memory://",
        broker_connection_retry_on_startup=True,
        # However long it is gone: what is due stands in the rows.
        broker_connection_max_retries=None,
        task_acks_late=True,
        task_reject_on_worker_lost=True,
        task_ignore_result=True,
        worker_prefetch_multiplier=1,
        task_default_queue="quick",
        timezone="UTC",
        beat_schedule={
            "sweep due work": {"task": "jobs.due_work.tasks.sweep", "schedule": 2.0},
            "keep daily work standing": {"task": "jobs.due_work.tasks.keep_standing", "schedule": 300.0},
        },
    )
    app.autodiscover_tasks(["jobs.due_work"])


_configure()
