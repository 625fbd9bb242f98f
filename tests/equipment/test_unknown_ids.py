"""Ids that no row can have are refused or answered as not there, by every way in."""

from uuid import uuid4

import pytest
from django.test import Client

from tests.equipment import cast as casting
from tests.equipment.cast import DAY, NIGHT

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("huge", [2**63, 10**30])
def test_a_number_beyond_the_database_is_no_row(client: Client, huge: int) -> None:
    cast = casting.make()
    cast.units("0001")
    job, pool = cast.job().pk, cast.pool().pk

    def post(who: object, path: str, **body: object) -> int:
        client.force_login(who)  # type: ignore[arg-type]
        sent = {"key": str(uuid4()), **body}
        return client.post(f"/api/v1/{path}", sent, content_type="application/json").status_code

    terms = {"starts_at": NIGHT, "ends_at": NIGHT + DAY, "keep_for": "01:00:00", "leads_reason": "wet"}
    ask = [
        ("holds", {"job_id": job, "wanted": [{"pool_id": huge, "units": 1}], **terms}),
        ("holds", {"job_id": huge, "wanted": [{"pool_id": pool, "units": 1}], **terms}),
        ("holds", {"job_id": job, "wanted": [{"pool_id": pool, "units": 1}], "sizing_id": huge, **terms}),
        (f"holds/{huge}/confirm", {}),
    ]
    floor = [(f"moves/{huge}/undo", {}), ("moves/scan-out", {"numbers": ["1"], "vehicle_id": huge})]
    said = [post(cast.dispatcher, path, **body) for path, body in ask]
    said += [post(cast.keeper, path, **body) for path, body in floor]
    assert set(said) <= {400, 404}
