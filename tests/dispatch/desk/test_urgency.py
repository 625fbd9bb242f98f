"""A manager's word on the urgency stands beside the suggestion, with a name and a reason."""

from uuid import uuid4

import pytest
from django.test import Client

from jobs import urgency_words
from jobs.refusals import NotAllowed
from tests.dispatch.night import Night


def test_a_dispatcher_is_shown_no_form_and_may_not_set_it(night: Night) -> None:
    call_id = night.call()
    desk = Client()
    desk.force_login(night.dispatcher)
    assert "Set the urgency" not in desk.get(f"/desk/calls/{call_id}").content.decode()
    with pytest.raises(NotAllowed):
        urgency_words.set_urgency(**night.by(night.dispatcher), call_id=call_id, level="Go now", reason="care home")


def test_a_managers_word_needs_a_reason_and_leaves_the_suggestion_in_sight(night: Night) -> None:
    call_id = night.call()
    manager = night.cast.manager
    desk = Client()
    desk.force_login(manager)
    address = f"/desk/calls/{call_id}/urgency"
    refused = desk.post(address, {"key": str(uuid4()), "level": "Go now", "urgency_reason": " "})
    assert refused.status_code == 422
    assert "more or less urgent" in refused.content.decode()
    for level, reason in (("Go now", "clinic next door"), ("First in the morning", "they prefer it")):
        sent = {"key": str(uuid4()), "level": level, "urgency_reason": reason}
        assert desk.post(address, sent).status_code == 302
    said = urgency_words.urgency_said(call_id)
    assert said is not None
    assert (said.level, said.suggestion, said.reason) == ("First in the morning", "Go tonight", "they prefer it")
    text = desk.get(f"/desk/calls/{call_id}").content.decode()
    assert "they prefer it" in text
    assert f"said {said.by}" in text
    assert "Suggested:" in text
    assert "Go tonight" in text
