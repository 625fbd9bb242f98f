"""The page "What is free": now, at an hour or throughout a period; the first hour at which n are; who holds it."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.db.models import Count
from django.utils import timezone

from equipment import selectors
from equipment.models import Condition, EquipmentModel, Holder, UnitNow
from equipment.reservations.terms import check_moment, check_period
from jobs.refusals import Unusable

VEHICLES = "Vehicles"
# What is expected back later than this helps nobody who asks now.
EXPECTED_WITHIN = timedelta(days=2)
MOST_HOLDINGS, MOST_EXPECTED = 100, 2_000
TYPED = "%Y-%m-%dT%H:%M"


class FreeForm(forms.Form):
    """What is asked, all of it optional: a model's code, how many, and when, in the place's own time."""

    model = forms.CharField(max_length=40, required=False)
    wanted = forms.IntegerField(
        min_value=1,
        max_value=10_000,
        required=False,
        error_messages={"invalid": "Write how many as a number: 1 to 10000."},
    )
    at = forms.DateTimeField(
        required=False, error_messages={"invalid": "Give a day and an hour, or leave it empty for now."}
    )
    until = forms.DateTimeField(
        required=False, error_messages={"invalid": "Give a day and an hour, or leave it empty."}
    )

    def __init__(self, asked: Mapping[str, str], *, now: datetime) -> None:
        super().__init__(asked)
        self.now = now

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        at, until = given.get("at") or self.now, given.get("until")
        if until is not None and until <= at:
            self.add_error("until", "The end lies before the start. Give a later end, or leave it empty.")
        try:
            check_moment(at, self.now)
            if until is not None and until > at:
                check_period(at, until, self.now)
        except Unusable as refused:
            self.add_error("until" if refused.where == "ends_at" else "at", refused.message)
        code = given.get("model")
        if code and not EquipmentModel.objects.filter(code=code).exists():
            self.add_error("model", f"There is no model {code!r}. Choose one from the list.")
        return given


@dataclass(frozen=True)
class ModelLine:
    """
    One model: free by place in the page's order, in all, and what is not free but known.

    `expected` units may come back within two days of the asked hour. `counted_away` were counted onto vehicles by
    model, numbers to come.
    """

    model_id: int
    code: str
    name: str
    free: tuple[tuple[str, int], ...]
    total: int
    to_clean: int
    in_repair: int
    expected: int
    counted_away: int


@dataclass(frozen=True)
class PlaceLine:
    """The asked model at one place, with who holds some of it."""

    at: selectors.Available
    holdings: tuple[selectors.Holding, ...]


@dataclass(frozen=True)
class OneModel:
    """
    The asked model, place by place, `aboard` free on all vehicles together.

    `enough`: one place has all that are wanted; else `first` is the first hour at which one has, `first_at`.
    """

    line: ModelLine
    warehouses: tuple[PlaceLine, ...]
    vehicles: tuple[PlaceLine, ...]
    aboard: int
    enough: bool
    first: datetime | None
    first_at: str
    expected: tuple[selectors.Expected, ...]

    @property
    def places(self) -> tuple[PlaceLine, ...]:
        """Every place: warehouses first."""
        return self.warehouses + self.vehicles


@dataclass(frozen=True)
class FreePage:
    """What was typed, what is wrong with it, and the answer. `hours` are (words, value) of hours often asked for."""

    typed: Mapping[str, str]
    errors: Mapping[str, str]
    choices: tuple[tuple[str, str], ...]
    hours: tuple[tuple[str, str], ...]
    asked_at: datetime
    at: datetime
    until: datetime | None
    now: bool
    wanted: int
    places: tuple[str, ...]
    lines: tuple[ModelLine, ...]
    in_workshop: tuple[str, ...]
    one: OneModel | None


def free_page(*, area_id: int, zone: ZoneInfo, asked: Mapping[str, str], now: datetime) -> FreePage:
    """
    The answer to `asked` (model, wanted, at, until as typed), as it is now where something typed cannot be meant.

    Nine queries, eleven for one model.
    """
    with timezone.override(zone):
        form = FreeForm(asked, now=now)
        good = form.cleaned_data if form.is_valid() else {}
    wanted, at, until = good.get("wanted") or 1, good.get("at") or now, good.get("until")
    rows = selectors.availability(area_id=area_id, now=now, at=at, until=until, wanted=wanted)
    expected = selectors.expected_back(area_id=area_id, until=at + EXPECTED_WITHIN, now=now, at_most=MOST_EXPECTED)
    places = [row.place for row in rows if row.warehouse_id is not None]
    order = (*sorted(set(places)), VEHICLES)
    lines = _lines(rows, order, _waiting(area_id), Counter(_by_model(expected)))
    asked_for = next((line for line in lines if line.code == good.get("model")), None)
    return FreePage(
        typed={name: asked.get(name, "") for name in FreeForm.base_fields},
        errors={name: str(errors[0]) for name, errors in form.errors.items()},
        choices=tuple((line.code, line.name) for line in lines),
        hours=_hours(now.astimezone(zone)),
        asked_at=now,
        at=at,
        until=until,
        now=good.get("at") is None,
        wanted=wanted,
        places=order,
        lines=lines,
        in_workshop=tuple(sorted({row.place for row in rows if row.in_workshop})),
        one=None if asked_for is None else _one(asked_for, rows, wanted, at, expected),
    )


def _by_model(expected: tuple[selectors.Expected, ...]) -> dict[int, int]:
    total: dict[int, int] = defaultdict(int)
    for one in expected:
        total[one.model_id] += one.count
    return total


def _hours(local: datetime) -> tuple[tuple[str, str], ...]:
    """Hours that are asked for most: this evening, and tomorrow before the first shift."""
    evening, tomorrow = local.replace(hour=18, minute=0), (local + timedelta(days=1)).replace(hour=7, minute=0)
    found = [("Today 6 PM", evening)] if evening > local else []
    found += [("Tomorrow 7 AM", tomorrow), ("Tomorrow 6 PM", tomorrow.replace(hour=18))]
    return tuple((words, f"{at:{TYPED}}") for words, at in found)


def _waiting(area_id: int) -> dict[int, Counter[str]]:
    """By model: units that cannot go out yet, by what they wait for."""
    kinds = [Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE, Holder.Kind.REPAIR]
    rows = (
        UnitNow.objects.filter(holder__area=area_id, holder__kind__in=kinds, unit__model__loan=None)
        .exclude(condition=Condition.READY, holder__kind__in=kinds[:2])
        .values_list("unit__model_id", "holder__kind", "condition")
        .annotate(count=Count("pk"))
        .order_by()
    )
    found: dict[int, Counter[str]] = defaultdict(Counter)
    for model_id, kind, condition, count in rows:
        repair = kind == Holder.Kind.REPAIR or condition == Condition.BROKEN
        found[model_id]["repair" if repair else "clean"] += count
    return found


def _lines(
    rows: tuple[selectors.Available, ...],
    order: tuple[str, ...],
    waiting: dict[int, Counter[str]],
    expected: Counter[int],
) -> tuple[ModelLine, ...]:
    by_model: dict[int, list[selectors.Available]] = defaultdict(list)
    for row in rows:
        by_model[row.model_id].append(row)
    return tuple(
        ModelLine(
            model_id,
            mine[0].model_code,
            mine[0].model,
            tuple((name, sum(row.free for row in mine if _column(row) == name)) for name in order),
            sum(row.free for row in mine),
            waiting[model_id]["clean"],
            waiting[model_id]["repair"],
            expected[model_id],
            sum(row.counted_away for row in mine),
        )
        for model_id, mine in by_model.items()
    )


def _column(row: selectors.Available) -> str:
    return row.place if row.warehouse_id is not None else VEHICLES


def _one(
    line: ModelLine,
    rows: tuple[selectors.Available, ...],
    wanted: int,
    at: datetime,
    expected: tuple[selectors.Expected, ...],
) -> OneModel:
    mine = [row for row in rows if row.model_id == line.model_id]
    held: dict[int, list[selectors.Holding]] = defaultdict(list)
    for pool_id, holding in selectors.holdings({row.pool_id for row in mine}, not_before=at, at_most=MOST_HOLDINGS):
        held[pool_id].append(holding)
    shown = [row for row in mine if row.stock or row.promised or row.in_workshop or held[row.pool_id]]
    shown.sort(key=lambda row: (-row.free, row.place))
    waits = sorted((row.free_from, row.place) for row in mine if row.free_from is not None)
    first, first_at = waits[0] if waits else (None, "")
    return OneModel(
        line,
        tuple(PlaceLine(row, tuple(held[row.pool_id])) for row in shown if row.warehouse_id is not None),
        tuple(PlaceLine(row, tuple(held[row.pool_id])) for row in shown if row.warehouse_id is None),
        sum(row.free for row in mine if row.warehouse_id is None),
        any(row.free >= wanted for row in mine),
        first,
        first_at,
        tuple(one for one in expected if one.model_id == line.model_id),
    )
