"""Two addresses that say whether the program can work: for load balancers, and for whoever is called at night."""

import logging
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.utils import timezone

from config import vitals

# Work is claimed within seconds; this much later nobody is doing it.
OVERDUE = timedelta(minutes=2)
# The ledgers are audited every night; a night left out is noticed the next noon.
AUDIT_OVERDUE = timedelta(hours=33)
log = logging.getLogger(__name__)


def health(request: HttpRequest) -> JsonResponse:
    """200 when database, tables, broker, timed work and the nightly audit are well; else 503 with which one is not."""
    figures: dict[str, Any] = {}
    try:
        found = {"database": "ok", "migrations": "ok"}
        if waiting := _steps_not_applied():
            found["migrations"] = f"{waiting} not applied: run manage.py migrate"
        else:
            found |= _work(figures) | _audit(figures)
    except DatabaseError:
        log.exception("The database does not answer")
        found = {"database": "does not answer"}
    if settings.REDIS_URL:
        found["broker"] = "ok" if vitals.broker_answers() else "does not answer"
    return _answer(found, figures)


def alive(request: HttpRequest) -> JsonResponse:
    """200 when this process can answer from the database: what a load balancer asks before it sends anybody here."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        log.exception("The database does not answer")
        return _answer({"database": "does not answer"}, {})
    return _answer({"database": "ok"}, {})


def _answer(found: dict[str, str], figures: dict[str, Any]) -> JsonResponse:
    failing = sorted(name for name, word in found.items() if word != "ok")
    body: dict[str, Any] = {"status": "failing" if failing else "ok", **found, **figures}
    if failing:
        body["failing"] = failing
    return JsonResponse(body, status=503 if failing else 200, headers={"Cache-Control": "no-store"})


def _work(figures: dict[str, Any]) -> dict[str, str]:
    now = timezone.now()
    figures["oldest_unhandled_s"] = round(vitals.oldest_s(now=now))
    late = vitals.late_rows(before=now - OVERDUE, now=now)
    return {"due_work": f"{late} overdue: is the runner, or a worker, running?" if late else "ok"}


def _audit(figures: dict[str, Any]) -> dict[str, str]:
    last = vitals.last_audit()
    figures["last_audit_at"] = None if last is None else last.at.isoformat()
    if last is None:
        return {"audit": "ok"}
    if last.differences:
        return {"audit": f"{last.differences} differences: run manage.py audit_ledgers"}
    if timezone.now() - last.at > AUDIT_OVERDUE:
        return {"audit": "overdue: no audit since last_audit_at"}
    return {"audit": "ok"}


def _steps_not_applied() -> int:
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))
