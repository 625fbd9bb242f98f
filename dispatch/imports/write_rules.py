"""Writing payers and state rules: each figure with its source, its confidence and the days on which it holds."""

from collections.abc import Mapping, Sequence
from typing import Any

from equipment.sheets.checking import GoodRow
from jobs.models import Payer, PayerRule, StateRule


def write_payers(rows: Sequence[GoodRow]) -> None:
    """Payers by code; a payer's rules by the day from which they hold."""
    for row in rows:
        values = row.values
        payer, _ = Payer.objects.update_or_create(
            code=values["code"], defaults={"name": values["name"], "kind": values["kind"] or ""}
        )
        PayerRule.objects.update_or_create(
            payer=payer,
            valid_from=values["valid_from"],
            defaults={
                **_sourced(values),
                "contact_minutes": values["contact_minutes"],
                "arrival_minutes": values["arrival_minutes"],
                "report_hours": values["report_hours"],
                "day_count": values["day_count"],
                "by_room": values["count_by"] == "room_by_room",
            },
        )


def write_state_rules(rows: Sequence[GoodRow]) -> None:
    """State rules by state, topic and the day from which they hold; the unit stands first in the note."""
    for row in rows:
        values = row.values
        StateRule.objects.update_or_create(
            state=values["state"],
            topic=values["topic"],
            valid_from=values["valid_from"],
            defaults={
                **_sourced(values),
                "value": values["value"],
                "note": "; ".join(filter(None, (values["unit"], values["note"]))),
            },
        )


def _sourced(values: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "source": values["source"],
        "edition": values["edition"] or "",
        "confidence": values["confidence"],
        "valid_until": values["valid_until"],
        "note": values["note"] or "",
    }
