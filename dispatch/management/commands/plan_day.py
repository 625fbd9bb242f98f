"""Plan a day from the command line, or write its problem to a file."""

import json
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from dispatch import followups, planning
from dispatch.models import Plan
from dispatch.snapshot import Snapshot
from jobs.models import Area
from jobs.people import system_user
from jobs.refusals import Refusal


class Command(BaseCommand):
    help = "Give every open job its visit, work out the day's routes and publish them."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--day", type=date.fromisoformat, help="YYYY-MM-DD; tomorrow without it")
        parser.add_argument("--area", help="the area's code; the first area without it")
        parser.add_argument("--seconds", type=int, help="how long to search")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--draft", action="store_true", help="do not publish")
        parser.add_argument("--json", type=Path, metavar="FILE", help="write the problem to a file and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        areas = Area.objects.order_by("pk")
        area = areas.filter(code=options["area"]).first() if options["area"] else areas.first()
        if area is None:
            known = ", ".join(areas.values_list("code", flat=True)) or "none yet: import a company first"
            raise CommandError(f"There is no such area. Known: {known}.")
        now = timezone.now()
        day = options["day"] or now.astimezone(area.zone).date() + timedelta(days=1)
        if options["json"]:
            shot = self._problem(area, day, now)
            options["json"].write_text(json.dumps(shot.problem, indent=1), encoding="utf-8")
            self.stdout.write(f"{len(shot.problem['visits'])} visits written to {options['json']}")
            return
        try:
            asked = planning.plan_day(
                key=uuid4(),
                actor=system_user(),
                now=now,
                area_id=area.pk,
                day=day,
                seconds=options["seconds"],
                seed=options["seed"],
            )
        except Refusal as refusal:
            raise CommandError(refusal.message) from refusal
        planning.run_plan(now=timezone.now(), work_id=0, plan_id=asked.plan_id, publish=not options["draft"])
        self._report(Plan.objects.get(pk=asked.plan_id))

    def _problem(self, area: Area, day: date, now: datetime) -> Snapshot:
        """As planning would see it: with the visits that planning gives every job first, which are then undone."""
        with transaction.atomic():
            followups.ensure_visits(key=uuid4(), actor=system_user(), now=now, area=area, day=day)
            shot = planning.problem_of(area=area, day=day, now=now)
            transaction.set_rollback(True)
        return shot

    def _report(self, plan: Plan) -> None:
        if plan.outcome is None:
            raise CommandError(plan.failure)
        routes = [route for route in plan.outcome["routes"] if route["stops"]]
        stops = sum(len(route["stops"]) for route in routes)
        self.stdout.write(f"{plan.service_day}: {stops} visits on {len(routes)} routes, {plan.get_state_display()}.")
        for row in plan.outcome["skipped"]:
            self.stdout.write(f"left out: {row['visit']}: {row['message']}")
