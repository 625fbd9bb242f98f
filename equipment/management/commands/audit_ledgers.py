"""Replay both ledgers and name every difference."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from equipment.audit import audit
from equipment.models import Move, ReservationEntry


class Command(BaseCommand):
    help = "Replay custody and reservations and compare them with the current rows; exits 1 on any difference."

    def handle(self, *args: Any, **options: Any) -> None:
        found = audit()
        for difference in found:
            self.stdout.write(
                f"{difference.what} {difference.which}, {difference.where}: "
                f"the row says {difference.row}, the entries say {difference.replayed}"
            )
        entries = f"{Move.objects.count()} moves and {ReservationEntry.objects.count()} reservation entries"
        if found:
            self.stdout.write(f"{len(found)} differences in {entries}.")
            sys.exit(1)
        self.stdout.write(f"No difference in {entries}.")
