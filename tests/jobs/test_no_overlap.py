"""Nobody is in two periods at once: refused by the form's check and by the database, on both databases."""

from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, IntegrityError, transaction
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from dispatch.models import Person, Shift
from equipment.models import Warehouse
from jobs.models import Area
from jobs.no_overlap import NoOverlap


def _at(hour: int) -> datetime:
    return datetime(2026, 1, 15 + hour // 24, hour % 24, tzinfo=UTC)


def _person(name: str, area: Area) -> Person:
    home, _ = Warehouse.objects.get_or_create(
        code="north",
        defaults={
            "area": area, "name": "North", "street": "1 Main Street", "town": "Vancouver", "state": "WA",
            "zip_code": "98661", "lat": 45.6, "lon": -122.6,
        },
    )  # fmt: skip
    user = User.objects.create(username=name)
    return Person.objects.create(user=user, area=area, name=name, phone="360-555-0100", home=home)


def _shift(person: Person, start: int, end: int) -> Shift:
    return Shift(person=person, kind="day", starts_at=_at(start), ends_at=_at(end))


@pytest.fixture
def anna(area: Area) -> Person:
    return _person("Anna", area)


@pytest.mark.parametrize(("start", "end"), [(7, 9), (15, 17), (8, 16), (9, 10), (0, 23)])
def test_an_overlap_is_refused_twice_over(anna: Person, start: int, end: int) -> None:
    _shift(anna, 8, 16).save()
    second = _shift(anna, start, end)

    with pytest.raises(ValidationError, match="already has a shift"):
        second.full_clean()
    with pytest.raises(IntegrityError), transaction.atomic():
        second.save()
    assert Shift.objects.count() == 1


def test_periods_that_touch_do_not_overlap(anna: Person) -> None:
    _shift(anna, 8, 16).save()
    for start, end in ((0, 8), (16, 20)):
        shift = _shift(anna, start, end)
        shift.full_clean()
        shift.save()

    assert Shift.objects.count() == 3


def test_another_person_may_work_the_same_hours(area: Area, anna: Person) -> None:
    _shift(anna, 8, 16).save()
    _shift(_person("Bela", area), 8, 16).save()

    assert Shift.objects.count() == 2


def test_a_change_into_an_overlap_is_refused_and_a_change_of_itself_is_not(anna: Person) -> None:
    early, late = _shift(anna, 0, 8), _shift(anna, 8, 16)
    early.save()
    late.save()
    late.ends_at = _at(15)
    late.save()
    late.starts_at = _at(7)

    with pytest.raises(IntegrityError), transaction.atomic():
        late.save()


def test_a_bulk_write_is_held_by_the_database_too(anna: Person) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Shift.objects.bulk_create([_shift(anna, 8, 16), _shift(anna, 12, 20)])


def test_it_describes_itself_so_that_no_migration_sees_a_change() -> None:
    one = NoOverlap(name="n", resource="a_id", only=("kind", "lead"))
    _, args, kwargs = one.deconstruct()

    assert NoOverlap(*args, **kwargs) == one
    assert NoOverlap(name="n", resource="a_id") != one


class AnyPeriods(TestCase):
    """Whatever is tried, the table never holds two overlapping periods of one person."""

    @settings(max_examples=25, deadline=None)
    @given(st.lists(st.tuples(st.integers(0, 1), st.integers(0, 30), st.integers(1, 12)), max_size=12))
    def test_the_table_agrees_with_a_list(self, tries: list[tuple[int, int, int]]) -> None:
        area, _ = Area.objects.get_or_create(code="a", name="A")
        people = [_person(f"{name}{User.objects.count()}", area) for name in "ab"]
        kept: list[tuple[int, int, int]] = []
        for who, start, hours in tries:
            end = start + hours
            free = all(who != other or end <= begun or start >= over for other, begun, over in kept)
            try:
                with transaction.atomic():
                    _shift(people[who], start, end).save()
                took = True
            except DatabaseError:
                took = False
            assert took == free
            if took:
                kept.append((who, start, end))
