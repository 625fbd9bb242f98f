"""What was written out and comes back changes nothing; a bad row stops everything; a file moves no unit."""

import csv
import io
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from equipment import stock_lists
from equipment.models import Condition, EquipmentModel, Move, Unit
from equipment.sheets.checking import BadRows
from equipment.sheets.reading import SheetUnusable
from jobs.models import JournalEntry, UseCaseCall
from jobs.refusals import NotAllowed
from tests.equipment.cast import NIGHT, Cast

TEXTS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=40)
RISKY = st.builds(str.__add__, st.sampled_from(["=", "+", "-", "@", "'", "'=", "\uff1d"]), TEXTS)
Edit = Callable[[list[dict[str, str]]], None]


def out(cast: Cast, name: str) -> str:
    return stock_lists.models_csv() if name == "models" else stock_lists.units_csv(area_id=cast.area.pk)


def looked(cast: Cast, name: str, text: str) -> stock_lists.LookedOver:
    return stock_lists.look_over(list_name=name, text=text, area_id=cast.area.pk, now=NIGHT)


def edited(text: str, edit: Edit) -> str:
    rows = list(csv.DictReader(io.StringIO(text)))
    edit(rows)
    written = io.StringIO()
    writer = csv.DictWriter(written, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return written.getvalue()


@pytest.fixture
def stocked(cast: Cast) -> Cast:
    """Units in every kind of place, one of them rented."""
    EquipmentModel.objects.filter(code="LGR").update(rated_pints_per_day=110.5, service_hours=900)
    cast.units("0007", "0042")
    cast.units("0050", at=cast.van)
    cast.units("0060", at=cast.job(), condition=Condition.IN_USE, room_name="=hall", hour_meter=12.5)
    cast.units("0070", model=cast.dehumidifier, condition=Condition.HELD_BACK, water_category=3)
    cast.units("R1", rented=True, supplier="=Yard", supplier_number="-9", daily_cost=12.1)
    return cast


@pytest.mark.parametrize("name", ["models", "units"])
def test_a_list_that_comes_back_changes_nothing(stocked: Cast, name: str) -> None:
    found = looked(stocked, name, out(stocked, name))

    assert (found.problems, found.new, found.changes, found.stays) == ((), (), (), ())
    assert found.same == (2 if name == "models" else 6)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    names=st.tuples(TEXTS | RISKY, TEXTS | RISKY),
    supplier=TEXTS | RISKY,
    cost=st.decimals(0, 4999, places=2),
    figures=st.tuples(st.floats(1, 1999), st.floats(0, 199), st.floats(0.2, 499)),
)
def test_whatever_the_values_are_they_come_back(
    stocked: Cast, names: tuple[str, str], supplier: str, cost: Decimal, figures: tuple[float, float, float]
) -> None:
    pints, amps, cuft = figures
    for row, name in zip(EquipmentModel.objects.order_by("code"), names, strict=True):
        row.name, row.rated_pints_per_day, row.running_a, row.volume_cuft = name, pints, amps, cuft
        row.save()
    Unit.objects.filter(rented=True).update(supplier=supplier, daily_cost=cost)

    for list_name in ("models", "units"):
        text = out(stocked, list_name)
        found = looked(stocked, list_name, text)
        assert (found.problems, found.changes, found.new) == ((), (), ())
        for cells in csv.reader(io.StringIO(text)):
            assert not any(cell.startswith(("=", "+", "-", "@", "\uff1d")) for cell in cells)


def test_new_units_go_through_custody_and_known_ones_stay(stocked: Cast) -> None:
    def edit(rows: list[dict[str, str]]) -> None:
        rows[0]["place"] = "south"
        rows.append({**rows[0], "number": "81", "place": "V2", "holder": "vehicle"})
        next(row for row in rows if row["number"] == "R1")["daily_cost_usd"] = "14.25"

    text = edited(out(stocked, "units"), edit)
    answer = stock_lists.import_units(**stocked.by(stocked.keeper), area_id=stocked.area.pk, text=text)

    assert answer == stock_lists.Imported(new=1, changed=1, same=5)
    assert stocked.now("0007").holder.warehouse == stocked.north, "a file moves no unit"
    assert stocked.now("0081").holder.vehicle == stocked.other_van
    assert Move.objects.get(unit__number="0081").why == Move.Why.OPENING
    assert Unit.objects.get(number="R1").daily_cost == Decimal("14.25")
    kept = JournalEntry.objects.get(kind="units_imported").data["changed"]
    assert kept == [["R1", "daily_cost_usd", "12.1", "14.25"]]
    assert "number 0007 stays" in looked(stocked, "units", text).stays[0]


BAD_UNITS: list[tuple[str, str, str, str]] = [
    ("number", "four", "number", "is no unit number"),
    ("model", "AN", "model", "AM is meant?"),
    ("holder", "job", "holder", "a new unit is entered at"),
    ("place", "nord", "place", "north is meant?"),
    ("condition", "in_use", "condition", "a new unit is one of"),
    ("rented", "yes", "supplier", "a rented unit needs it"),
    ("water_category", "3", "condition", "ready does not go with category 3"),
    ("number", "0007", "number", "stands on line 2 already"),
]


@pytest.mark.parametrize(("column", "value", "named", "reason"), BAD_UNITS)
def test_a_bad_row_is_named_and_stops_everything(
    stocked: Cast, column: str, value: str, named: str, reason: str
) -> None:
    def edit(rows: list[dict[str, str]]) -> None:
        rows.append({**rows[0], "number": "0500"})
        rows.append({**rows[0], "number": "0501", column: value})

    text = edited(out(stocked, "units"), edit)
    found = looked(stocked, "units", text).problems

    assert [problem.line for problem in found] == [9] * len(found)
    assert any(problem.column == named and reason in problem.reason for problem in found)
    with pytest.raises(BadRows):
        stock_lists.import_units(**stocked.by(stocked.keeper), area_id=stocked.area.pk, text=text)
    assert not Unit.objects.filter(number="0500").exists()
    assert UseCaseCall.objects.filter(verb="import_units").get().arguments["text"] == text, "what was sent is kept"


@pytest.mark.parametrize(
    ("column", "value", "reason"),
    [("model", "LGR", "is a AM in the record"), ("rented", "yes", "is ours in the record")],
)
def test_a_number_stays_the_unit_it_is(stocked: Cast, column: str, value: str, reason: str) -> None:
    text = edited(out(stocked, "units"), lambda rows: rows[0].update({column: value}))

    assert [reason in problem.reason for problem in looked(stocked, "units", text).problems] == [True]


def test_models_are_entered_and_brought_up_to_date_by_a_manager(stocked: Cast) -> None:
    def edit(rows: list[dict[str, str]]) -> None:
        rows[0]["running_a"] = "2.4"
        rows.append({**rows[1], "code": "LGR-2", "name": "'=Second"})

    text = edited(out(stocked, "models"), edit)
    with pytest.raises(NotAllowed):
        stock_lists.import_models(**stocked.by(stocked.keeper), area_id=stocked.area.pk, text=text)
    answer = stock_lists.import_models(**stocked.by(stocked.manager), area_id=stocked.area.pk, text=text)

    assert answer == stock_lists.Imported(new=1, changed=1, same=1)
    assert EquipmentModel.objects.get(code="AM").running_a == 2.4
    assert EquipmentModel.objects.get(code="LGR-2").name == "=Second"


def test_a_column_that_is_not_in_the_file_is_left_alone(stocked: Cast) -> None:
    head = "code,name,kind,running_a,weight_lb,volume_cuft\n"
    found = looked(stocked, "models", head + "LGR,Low-grain dehumidifier,lgr,7,20,2\n")

    assert (found.problems, found.changes, found.same) == ((), (), 1)


@pytest.mark.parametrize("text", ["", "number,model\n", '"half'])
def test_what_is_no_table_is_refused(stocked: Cast, text: str) -> None:
    with pytest.raises(SheetUnusable):
        looked(stocked, "units", text)


def send(client: Client, cast: Cast, **typed: Any) -> Any:
    client.force_login(cast.manager)
    return client.post("/warehouse/north/lists", {"key": "7d0f3f2e-5d0c-4f0e-9f4e-0d6a5a3f3b1a", **typed})


def test_the_page_takes_nothing_in_before_it_is_accepted(stocked: Cast, client: Client) -> None:
    text = edited(out(stocked, "units"), lambda rows: rows.append({**rows[0], "number": "0500"}))
    first = send(client, stocked, list_name="units", do="look", file=io.BytesIO(text.encode()))

    assert (first.status_code, Unit.objects.filter(number="0500").exists()) == (200, False)
    assert "Accept and take in" in first.content.decode()

    second = send(client, stocked, list_name="units", do="accept", text=text)
    assert "Taken in: 1 new" in second.content.decode()
    assert Unit.objects.filter(number="0500").exists()


def test_what_was_uploaded_stands_on_the_page_when_it_is_refused(stocked: Cast, client: Client) -> None:
    text = edited(out(stocked, "units"), lambda rows: rows.append({**rows[0], "number": "0500", "place": "<nowhere>"}))
    for do in ("look", "accept"):
        refused = send(client, stocked, list_name="units", do=do, text=text)
        assert refused.status_code == 422
        assert "0500" in refused.content.decode()
        assert "&lt;nowhere&gt;" in refused.content.decode()
        assert "Accept and take in" not in refused.content.decode()
    unreadable = send(client, stocked, list_name="units", do="look", file=io.BytesIO(b"number,model\n1,caf\xe9"))
    assert "Save it as CSV UTF-8" in unreadable.content.decode()
    assert "1,caf" in unreadable.content.decode()


@pytest.mark.parametrize("name", ["models", "units"])
def test_the_saved_file_is_what_is_read(stocked: Cast, client: Client, name: str) -> None:
    client.force_login(stocked.keeper)
    saved = client.get(f"/warehouse/north/lists/{name}.csv")

    assert "attachment" in saved["Content-Disposition"]
    assert looked(stocked, name, saved.content.decode()).changes_nothing


def test_equivalents_stand_in_the_models_list_both_ways(stocked: Cast) -> None:
    by = stocked.by(stocked.manager)
    new = "AM2,Tall air mover,air_mover,,,900,,,2,18,2,,,"
    text = stock_lists.models_csv().rstrip()
    header, mover, drier = text.splitlines()
    assert header.endswith(",equivalents")

    one_sided = "\n".join([header, mover + "AM2", drier, new])
    (problem,) = looked(stocked, "models", one_sided).problems
    assert (problem.line, problem.column) == (2, "equivalents")
    assert "names AM2, but line 4 does not name AM" in problem.reason
    wrong = looked(stocked, "models", "\n".join([header, mover + "AM AX", drier + "AM?"])).problems
    assert [(problem.line, problem.column) for problem in wrong] == [(2, "equivalents")] * 2 + [(3, "equivalents")]

    both = "\n".join([header, mover + "AM2", drier, new + "AM"])
    found = looked(stocked, "models", both)
    assert [(change.key, change.was, change.becomes) for change in found.changes] == [("AM", "", "AM2")]
    stock_lists.import_models(**by, area_id=stocked.area.pk, text=both)
    assert [other.code for other in stocked.mover.equivalents.all()] == ["AM2"]
    assert looked(stocked, "models", stock_lists.models_csv()).same == 3

    assert (
        looked(stocked, "models", "code,name,kind,running_a,weight_lb,volume_cuft\nAM,Air mover,air_mover,2,20,2").same
        == 1
    )
    alone = f"{header}\n{mover}"
    stock_lists.import_models(**stocked.by(stocked.manager), area_id=stocked.area.pk, text=alone)
    assert list(EquipmentModel.objects.get(code="AM2").equivalents.all()) == []
