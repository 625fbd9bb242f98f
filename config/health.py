"""One address that says whether the program can work: for load balancers and for whoever is called at night."""

import logging
from datetime import timedelta

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.utils import timezone

from jobs.models import DueWork

# Work is claimed within seconds; this much later nobody is doing it.
OVERDUE = timedelta(minutes=2)
log = logging.getLogger(__name__)


def health(request: HttpRequest) -> JsonResponse:
    """200 when the database answers, its tables are current and due work is being done; else 503 with what is not."""
    found = {"database": "ok", "migrations": "ok", "due_work": "ok"}
    try:
        waiting = _steps_not_applied()
        if waiting:
            found["migrations"] = f"{waiting} not applied: run manage.py migrate"
        else:
            late = DueWork.objects.filter(state=DueWork.State.PENDING, due_at__lt=timezone.now() - OVERDUE).count()
            if late:
                found["due_work"] = f"{late} overdue: is the runner, or a worker, running?"
    except DatabaseError:
        log.exception("The database does not answer")
        found = {"database": "does not answer"}
    well = set(found.values()) == {"ok"}
    return JsonResponse({"status": "ok" if well else "failing", **found}, status=200 if well else 503)


def _steps_not_applied() -> int:
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))
