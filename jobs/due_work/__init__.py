"""
Timed and background work as rows: written in the caller's transaction, executed by the runner process or by Celery.

Handlers are registered by kind in each app's `AppConfig.ready`, are idempotent, and take `now` and their arguments.
"""

from jobs.due_work.late import Late, late_work
from jobs.due_work.queue import Work, cancel, due_ids, enqueue, enqueue_all
from jobs.due_work.registry import Handler, handler_for, kinds, register
from jobs.due_work.run import renew, run_due, run_one
from jobs.due_work.standing import ensure_standing, register_standing

__all__ = [
    "Handler",
    "Late",
    "Work",
    "cancel",
    "due_ids",
    "enqueue",
    "enqueue_all",
    "ensure_standing",
    "handler_for",
    "kinds",
    "late_work",
    "register",
    "register_standing",
    "renew",
    "run_due",
    "run_one",
]
