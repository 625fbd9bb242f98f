"""What the office billed beside what the log says: entered by page, by file and over HTTP, and as a measure."""

from datetime import timedelta
from unittest.mock import patch
from uuid import uuid4

import pytest
from django.test import Client, TestCase

from dispatch.measures.cases import Span
from dispatch.measures.definitions import measure_of
from dispatch.measures.reduce import figure
from equipment import billed_days, custody
from equipment.billed_days import enter_billed_days, import_billed_days
from equipment.closing import close_job
from equipment.models import BilledDays
from equipment.sheets.checking import BadRows
from jobs.models import Job
from jobs.refusals import Unusable
from tests.equipment import cast as casting
from tests.equipment.cast import NIGHT

DAY = timedelta(days=1)
pytestmark = pytest.mark.django_db


class BilledDaysTest(TestCase):
    """Two air movers stood at the job for 2 days and 1 hour, one more for 5 hours: 3 + 3 + 1 = 7 started days."""

    @classmethod
    def setUpTestData(cls) -> None:
        cls.cast = cast = casting.make()
        cast.units("0001", "0002", "0003", since=NIGHT - DAY)
        cls.job = cast.job()
        lead, keeper = cast.lead, cast.keeper
        custody.scan_out(**cast.by(keeper, NIGHT), numbers=("0001", "0002", "0003"), vehicle_id=cast.van.pk)
        for at, numbers in ((NIGHT, ("0001", "0002")), (NIGHT + 2 * DAY, ("0003",))):
            to = {"job_id": cls.job.pk, "room_name": "hall", "vehicle_id": cast.van.pk}
            custody.place_units(**cast.by(lead, at), numbers=numbers, **to)
        for hours, numbers in ((49, ("0001", "0002")), (53, ("0003",))):
            back = {"job_id": cls.job.pk, "vehicle_id": cast.van.pk, "numbers": numbers}
            custody.take_up_units(**cast.by(lead, NIGHT + timedelta(hours=hours)), **back)
        cls.model = cast.mover.code
        cls.closed = NIGHT + 3 * DAY
        close_job(**cast.by(cast.dispatcher, cls.closed), job_id=cls.job.pk)
        cls.job = Job.objects.get(pk=cls.job.pk)

    def bill(self) -> billed_days.JobBill:
        return billed_days.bills([self.job], now=self.closed + DAY)[0]

    def enter(self, days: int) -> billed_days.BilledEntered:
        told = {"job_id": self.job.pk, "days": ((self.model, days),)}
        return enter_billed_days(**self.cast.by(self.cast.dispatcher, self.closed + DAY), **told)

    def measured(self) -> tuple[float | None, str]:
        area, on = self.job.area, self.closed.astimezone(self.job.area.zone)
        span = Span.month(area_id=area.pk, zone=area.zone, year=on.year, month=on.month, now=self.closed + DAY)
        cases = measure_of("billed_days").cases(span)
        return figure("total", cases).value, cases[0].group

    def test_the_measure_shows_what_differs_and_nothing_is_better_by_not_being_entered(self) -> None:
        assert self.measured() == (7.0, "nothing entered")
        assert self.enter(9).difference == 2
        assert self.measured() == (2.0, "differs")
        assert self.enter(7).difference == 0
        assert self.measured() == (0.0, "as logged")
        assert (self.bill().counted, self.bill().logged, BilledDays.objects.count()) == ("started_24h", 7, 2)

    def test_a_file_is_taken_whole_or_not_at_all(self) -> None:
        common = {**self.cast.by(self.cast.dispatcher, self.closed + DAY), "area_id": self.job.area_id}
        bad = f"job,model,days\n{self.job.number},{self.model},7\n{self.job.number},NO-SUCH,2\nJ-0,{self.model},-1\n"
        with pytest.raises(BadRows) as refused:
            import_billed_days(**common, text=bad)
        assert len(refused.value.data["problems"]) == 2
        assert not BilledDays.objects.exists()
        good = {**common, "key": uuid4(), "text": f"job,model,days\n{self.job.number},{self.model},6\n"}
        assert import_billed_days(**good).difference == 1
        with pytest.raises(Unusable):
            enter_billed_days(
                **self.cast.by(self.cast.dispatcher, self.closed), job_id=self.job.pk, days=(("NO-SUCH", 1),)
            )

    def test_the_page_and_the_api_enter_the_same(self) -> None:
        client = Client()
        client.force_login(self.cast.manager)
        with patch("django.utils.timezone.now", lambda: self.closed + DAY):
            page = client.get("/manager/billed").content.decode()
            assert "7 logged" in page
            assert "Nothing entered" in page
            typed = {"key": str(uuid4()), "job_id": self.job.pk, f"days-{self.model}": "six"}
            refused = client.post("/manager/billed", typed)
            assert refused.status_code == 422
            assert 'value="six"' in refused.content.decode()
            done = client.post(
                "/manager/billed", {**typed, "key": str(uuid4()), f"days-{self.model}": "6"}, follow=True
            )
            assert "1 equipment-days differ" in done.content.decode()
            address = f"/api/v1/jobs/{self.job.pk}/billed-days"
            sent = {"key": str(uuid4()), "lines": [{"model": self.model, "days": 7}]}
            assert client.post(address, sent, "application/json").json()["difference"] == 0
            found = client.get(address).json()
            assert found["lines"] == [{**found["lines"][0], "logged": 7, "billed": 7}]
