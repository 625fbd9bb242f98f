"""`manage.py import_company`: looks by itself, writes only when told, and fails loudly while a row is bad."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from jobs.models import Area, Payer

pytestmark = pytest.mark.django_db
AREAS = "code,name,time_zone,phone\neast,East,America/Los_Angeles,\n"
PAYERS = (
    "code,name,kind,contact_minutes,arrival_minutes,report_hours,day_count,count_by,source,edition,confidence,"
    "valid_from,valid_until,note\nself,Self-pay,self_pay,60,,,{day_count},whole_job,our own,,practice,2027-01-01,,\n"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "areas.csv").write_text(AREAS, encoding="utf-8")
    (tmp_path / "payers.csv").write_text(PAYERS.format(day_count="calendar_days"), encoding="utf-8")
    return tmp_path


def run(*arguments: str) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    call_command("import_company", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


@pytest.mark.parametrize("flags", [(), ("--dry-run",)])
def test_by_itself_it_only_looks(folder: Path, flags: tuple[str, ...]) -> None:
    out, _ = run(str(folder), *flags)

    assert "areas.csv: 1 good rows" in out
    assert "--accept" in out
    assert Area.objects.count() == 0


def test_accepted_it_writes(folder: Path) -> None:
    out, _ = run(str(folder), "--accept")

    assert "Imported 2 rows" in out
    assert Area.objects.get().code == "east"
    assert Payer.objects.get().rules.get().arrival_minutes is None


def test_bad_rows_are_named_on_standard_error(folder: Path) -> None:
    (folder / "payers.csv").write_text(PAYERS.format(day_count="by feel"), encoding="utf-8")
    err = StringIO()

    with pytest.raises(CommandError, match="To put right: 1"):
        call_command("import_company", str(folder), "--accept", stdout=StringIO(), stderr=err)

    assert err.getvalue().startswith("payers.csv line 2, day_count: 'by feel' is none of: completed_24h")
    assert (Area.objects.count(), Payer.objects.count()) == (0, 0)


def test_a_folder_that_is_not_there_ends_with_status_2(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="is no folder") as refused:
        call_command("import_company", str(tmp_path / "nowhere"), stdout=StringIO())

    assert refused.value.returncode == 2
