"""Erase personal and access data whose period is over, or say what that would be."""

from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from jobs import retention
from jobs.people import system_user


class Command(BaseCommand):
    help = "Erase personal and access data whose period is over. It runs every night by itself."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="say what would be erased; change nothing")

    def handle(self, *args: Any, dry_run: bool, **options: Any) -> None:
        now = timezone.now()
        if dry_run:
            found = retention.would_erase(now=now)
        else:
            found = retention.erase_on_schedule(key=uuid4(), actor=system_user(), now=now)
        did = "would be erased" if dry_run else "erased"
        for kind, number in found.rows.items():
            period = retention.in_force()[kind]
            self.stdout.write(f"{kind}: {number} {did} ({period.what}, {period.days} days after {period.counted_from})")
