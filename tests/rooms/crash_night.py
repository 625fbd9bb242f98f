"""
The small night in a database of its own, for a program that is killed: `fill` writes it and prints who is signed in,
`late` lets the time for every answer run out, `tell` prints what is in the database. Several words: one by one, and the
first one's answer is printed.
"""

import json
import sys
from collections import Counter
from datetime import timedelta
from typing import Any

import django


def main() -> None:
    django.setup()
    answers = [{"fill": fill, "late": late, "tell": tell}[word]() for word in sys.argv[1:]]
    print(json.dumps(answers[0]))


def fill() -> dict[str, Any]:
    """The night's crews work now, whenever that is; session keys of the desk and of the warehouse."""
    from django.core.management import call_command
    from django.test import Client
    from django.utils import timezone

    from dispatch.models import CallOutOrder, Card, Crew
    from tests.dispatch import night as nights

    call_command("migrate", interactive=False, verbosity=0)
    made, now = nights.night(), timezone.now()
    began = (now.astimezone(made.cast.area.zone) - timedelta(hours=12)).date()
    hour = timedelta(hours=1)
    Crew.objects.update(starts_at=now - hour, ends_at=now + 8 * hour, at_latest=now + 10 * hour, service_day=began)
    CallOutOrder.objects.update(night_of=began)
    Card.objects.exclude(person=made.lapsed.lead).update(expires_on=None)
    sessions = {}
    for user in (made.dispatcher, made.cast.keeper):
        client = Client()
        client.force_login(user)
        sessions[user.username] = client.cookies["sessionid"].value
    crews = {"ready": made.ready.pk, "empty": made.empty.pk}
    return {
        "sessions": sessions,
        "area_id": made.cast.area.pk,
        "crews": crews,
        "vehicle_id": made.lapsed.vehicle_id,
        "pool_id": made.cast.pool().pk,
    }


def late() -> int:
    """How many call-outs wait for an answer whose time is over now."""
    from django.utils import timezone

    from jobs.models import DueWork

    waiting = DueWork.objects.filter(kind="dispatch.escalate_call_out").exclude(state="done")
    return waiting.update(due_at=timezone.now())


def tell() -> dict[str, Any]:
    from dispatch.models import CallOut, Notice, Stop
    from equipment.models import Move, Reservation
    from jobs.models import Call, DueWork, Job, UseCaseCall, Visit

    held: dict[str, Counter[str]] = {}
    first = Notice.objects.exclude(step=None).exclude(text__startswith="Second try")
    for hold in Reservation.objects.filter(state="confirmed").select_related("job", "pool__model"):
        held.setdefault(str(hold.job_id), Counter())[hold.pool.model.code] += hold.quantity
    return {
        "calls": {
            str(call.pk): {"answers": {**call.answers, **call.private_answers}, "versions": call.versions}
            for call in Call.objects.all()
        },
        "keys": Counter(str(key) for key in UseCaseCall.objects.filter(outcome="done").values_list("key", flat=True)),
        "jobs": {str(pk): {"calls": list(Call.objects.filter(job=pk).values_list("pk", flat=True))} for pk in ids(Job)},
        "visits": Counter(str(pk) for pk in Visit.objects.values_list("job_id", flat=True)),
        "stops": Counter(str(pk) for pk in Stop.objects.values_list("visit__job_id", flat=True)),
        "held": held,
        "asked": {str(one.visit.job_id): list(ids(one.steps)) for one in CallOut.objects.select_related("visit")},
        "loaded": Counter(Move.objects.filter(why="loaded").values_list("unit__number", flat=True)),
        "exhausted": CallOut.objects.filter(state="exhausted").count(),
        "first_pages": sorted(Counter(first.values_list("step_id", flat=True)).values()),
        "ended_holds": Counter(Reservation.objects.exclude(state="confirmed").values_list("state", flat=True)),
        "unsent": Notice.objects.filter(state="waiting").count(),
        "sent": Notice.objects.filter(state="sent").count(),
        "failed": list(DueWork.objects.filter(state="failed").values_list("kind", "error")),
    }


def ids(rows: Any) -> tuple[int, ...]:
    manager = getattr(rows, "objects", rows)
    return tuple(manager.order_by("pk").values_list("pk", flat=True))


if __name__ == "__main__":
    main()
