"""A company is imported whole or not at all, and importing it again changes nothing."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from dispatch.imports.company import Imported, import_company, look_over
from dispatch.imports.sheets import read_folder
from dispatch.imports.write_rota import RotaTaken
from dispatch.imports.write_units import UnitIsAnother
from dispatch.models import CallOutOrder, Card, Crew, Person, Shift
from equipment.models import CountedStock, Move, Pool, Unit, UnitNow, Vehicle, Warehouse
from equipment.sheets.checking import BadRows
from equipment.sheets.reading import SheetRow
from jobs.models import Area, Membership, PayerRule, StateRule
from jobs.people import system_user
from tests.demo_company.tables import FOLDER, rows

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 1, 15, 20, 0, tzinfo=UTC)
COUNTED = (Area, Warehouse, Vehicle, Unit, UnitNow, Move, CountedStock, Person, Card, Crew, Shift, CallOutOrder)


# Long files are cut for the tests that need a company, but not all of it.
KEPT_LINES = {"units": 40, "cards": 60, "shifts": 50, "accessory_stock": 60}


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """The demo company with fewer units, cards and shifts."""
    folder = tmp_path / "company"
    folder.mkdir()
    for path in FOLDER.glob("*.csv"):
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        (folder / path.name).write_text("".join(lines[: KEPT_LINES.get(path.stem)]), encoding="utf-8")
    return folder


def imported(folder: Path, now: datetime = NOW) -> Imported:
    return import_company(key=uuid4(), actor=system_user(), now=now, sheets=read_folder(folder))


def row_counts() -> dict[str, int]:
    return {model.__name__: model._default_manager.count() for model in (*COUNTED, PayerRule, StateRule, Membership)}


def test_the_demo_company_is_written() -> None:
    done = imported(FOLDER)

    assert done.rows["vehicles"] == Vehicle.objects.count() == 40
    assert Person.objects.count() == len(rows("people"))
    assert Unit.objects.count() == UnitNow.objects.count() == len(rows("units"))
    assert Card.objects.count() == len(rows("cards"))
    # Ready units at warehouses and aboard vehicles are exactly what may be promised.
    ready = UnitNow.objects.filter(condition="ready", holder__kind__in=["warehouse", "vehicle"]).count()
    assert sum(Pool.objects.values_list("stock", flat=True)) == ready > 1000


def test_importing_again_changes_nothing(small: Path) -> None:
    imported(small)
    before = row_counts()

    imported(small)

    assert row_counts() == before


def test_a_changed_row_is_brought_up_to_date(small: Path, tmp_path: Path) -> None:
    imported(small)
    first = rows("people")[0]
    header, line = "user_name,name,phone,role,warehouse", f"{first['user_name']},New Name,503-555-0177,warehouse,south"
    (tmp_path / "people.csv").write_text(f"{header}\n{line}\n", encoding="utf-8")

    imported(tmp_path)

    person = Person.objects.get(user__username=first["user_name"])
    assert (person.name, person.phone, person.home.code) == ("New Name", "503-555-0177", "south")
    assert list(person.user.memberships.values_list("role", flat=True)) == ["warehouse"]
    assert Person.objects.count() == len(rows("people"))


def test_one_bad_row_and_nothing_is_imported(small: Path) -> None:
    with (small / "units.csv").open("a", encoding="utf-8") as handle:
        handle.write("0001,AM-LP,warehouse,north,ready,,1,no,,,\n")
    actor = system_user()
    before = row_counts()

    with pytest.raises(BadRows) as refused:
        import_company(key=uuid4(), actor=actor, now=NOW, sheets=read_folder(small))

    assert refused.value.data["problems"] == ["units.csv line 41, number: 0001 stands on line 2 already; keep one"]
    assert row_counts() == before


def test_users_bear_the_names_of_their_people(small: Path) -> None:
    imported(small)

    named = {user.username: user.get_full_name() for user in User.objects.filter(person__isnull=False)}
    assert named == {person["user_name"]: person["name"] for person in rows("people")}


def test_nobody_can_sign_in_before_a_password_is_set(small: Path) -> None:
    imported(small)

    assert not any(user.has_usable_password() for user in User.objects.all())


def test_a_technician_has_no_room_of_the_program(small: Path) -> None:
    imported(small)

    helper = next(person for person in rows("people") if person["role"] == "technician")
    assert not Membership.objects.filter(user__username=helper["user_name"]).exists()


def test_a_vehicle_with_a_trailer_is_rated_as_the_two_together(small: Path) -> None:
    imported(small)

    row = next(vehicle for vehicle in rows("vehicles") if vehicle["gcwr_lb"])
    assert Vehicle.objects.get(code=row["code"]).gvwr_lb == int(row["gcwr_lb"]) > 10_000


def test_a_night_crew_ends_on_the_next_morning_and_is_asked_first(small: Path) -> None:
    imported(small)

    night = Crew.objects.filter(on_call=True).first()
    assert night is not None
    zone = night.area.zone
    assert night.starts_at.astimezone(zone).hour == 18
    assert night.ends_at - night.starts_at == timedelta(hours=12)
    assert night.ends_at.astimezone(zone).date() == night.service_day + timedelta(days=1)


def test_days_count_from_the_local_day(small: Path) -> None:
    """At 20:00 UTC it is noon in the area; at 05:00 UTC it is still the evening before."""
    imported(small, now=datetime(2027, 1, 16, 5, 0, tzinfo=UTC))

    assert {str(order.night_of) for order in CallOutOrder.objects.all()} == {"2027-01-15"}


def test_a_number_of_another_model_is_refused(small: Path, tmp_path: Path) -> None:
    imported(small)
    header = (FOLDER / "units.csv").read_text(encoding="utf-8").splitlines()[0]
    (tmp_path / "units.csv").write_text(f"{header}\n0001,LGR-L,warehouse,north,ready,,1,no,,,\n", encoding="utf-8")

    with pytest.raises(UnitIsAnother, match="belongs to a unit of model AM-LP"):
        imported(tmp_path)


def test_a_crew_whose_vehicle_is_taken_is_refused(small: Path, tmp_path: Path) -> None:
    imported(small)
    crew = rows("crews")[0]
    spare = next(p for p in rows("people") if p["role"] == "crew_lead" and p["user_name"] not in taken_leads())
    header = ",".join(crew)
    line = ",".join({**crew, "code": "extra", "lead": spare["user_name"], "helper": ""}.values())
    (tmp_path / "crews.csv").write_text(f"{header}\n{line}\n", encoding="utf-8")

    with pytest.raises(RotaTaken, match=r"crews.csv line 2"):
        imported(tmp_path)

    assert not Crew.objects.filter(name="extra").exists()


def taken_leads() -> set[str]:
    return {crew["lead"] for crew in rows("crews") if crew["day"] == rows("crews")[0]["day"]}


def test_the_dry_run_writes_nothing() -> None:
    found = look_over(read_folder(FOLDER), now=NOW)

    assert found.problems == ()
    assert "jobs.csv" in found.not_read
    assert set(row_counts().values()) == {0}


def test_sheets_are_plain_values() -> None:
    """What the import was given is kept with the stored call, so it must be plain."""
    (area,) = next(sheet for sheet in read_folder(FOLDER) if sheet.name == "areas").rows

    assert isinstance(area, SheetRow)
    assert area.cells["code"] == "lower-columbia"
