"""How somebody of a job is reached, kept at the job's page; messages and tired leads as a replay reads them."""

from uuid import uuid4

from django.test import Client

from dispatch.replay.looks import LOOKS
from jobs.models import Contact
from tests.dispatch.night import NIGHT, Night


def test_a_contact_is_reached_as_the_desk_keeps_it_and_nothing_typed_is_lost(night: Night, client: Client) -> None:
    job, other = night.cast.job(), night.cast.job()
    owner = Contact.objects.create(job=job, role="owner", name="Ines Varga", phone="360-555-0107")
    client.force_login(night.dispatcher)
    address = f"/desk/jobs/{job.number}/people/{owner.pk}/reach"

    def keep(**typed: str) -> tuple[int, str]:
        answer = client.post(address, {"key": str(uuid4()), **typed})
        return answer.status_code, answer.content.decode()

    assert keep(reach_by="email", email="")[0] == 422
    status, page = keep(reach_by="email", email="ines at home")
    assert status == 422
    assert 'value="ines at home"' in page
    assert keep(reach_by="email", email="ines@example.com")[0] == 302
    owner.refresh_from_db()
    assert (owner.reach_by, owner.email) == ("email", "ines@example.com")
    assert "Messages: e-mail, ines@example.com" in client.get(f"/desk/jobs/{job.number}").content.decode()
    wrong = client.post(f"/desk/jobs/{other.number}/people/{owner.pk}/reach", {"key": str(uuid4()), "reach_by": ""})
    assert wrong.status_code == 422


def test_a_replay_reads_messages_and_who_may_be_released(night: Night) -> None:
    for name in ("notices", "releases"):
        look = LOOKS[name]
        seen = look.run(look.arguments(area_id=night.cast.area.pk), viewer=night.dispatcher, now=NIGHT)
        people = [row.name for row in (seen.people if name == "notices" else seen.leads)]
        assert night.ready.lead.name in people
