"""Messages to people: written with the change that causes them, sent afterwards, kept with what became of them."""

import logging
from datetime import datetime, timedelta
from typing import Any, Protocol
from uuid import UUID

from django.conf import settings
from django.utils.module_loading import import_string

from dispatch.models import Notice, Person
from jobs import due_work
from jobs.models import Contact, Visit

log = logging.getLogger(__name__)
SEND = "dispatch.send_notice"


class Transport(Protocol):
    """Takes one message to one number; raises on failure, and `Undeliverable` when trying again is useless."""

    def __call__(self, *, phone: str, text: str) -> None: ...


class Undeliverable(Exception):
    """The message can never be delivered this way."""


def console(*, phone: str, text: str) -> None:
    """Write the message to the log: what an installation without a gateway does. The number is cut to its end."""
    log.info("message to ...%s: %s", phone[-4:], text)


def no_gateway(*, phone: str, text: str) -> None:
    """
    Where a company has not said how its messages leave: they stay in the list as not sent, and in no log.

    :raises Undeliverable: always.
    """
    raise Undeliverable("No gateway is set (EBBLINE_NOTICE_TRANSPORT). Call the person instead.")


def write(
    *,
    key: UUID,
    area_id: int,
    text: str,
    now: datetime,
    person: Person | None = None,
    contact: Contact | None = None,
    visit: Visit | None = None,
) -> Notice:
    """
    Write a message to one of us (`person`) or to someone of the job (`contact`), in the caller's transaction.

    A worker sends it once that is committed.
    """
    values = {"area_id": area_id, "person": person, "contact": contact, "visit": visit, "text": text, "made_at": now}
    notice, made = Notice.objects.get_or_create(key=key, defaults=values)
    if made:
        due_work.enqueue(kind=SEND, arguments={"notice_id": notice.pk}, due_at=now, now=now)
    return notice


def send_notice(*, now: datetime, work_id: int, notice_id: int) -> dict[str, Any]:
    """
    Handler: send one message that waits.

    :raises Exception: whatever the transport raises, so that the work is tried again later.
    """
    notice = Notice.objects.select_related("person", "contact").get(pk=notice_id)
    receiver = notice.person or notice.contact
    if notice.state != Notice.State.WAITING:
        return {"state": notice.state}
    transport: Transport = import_string(settings.NOTICE_TRANSPORT)
    try:
        if receiver is None or not receiver.phone:
            raise Undeliverable("There is no number any more.")
        transport(phone=receiver.phone, text=notice.text)
    except Undeliverable as error:
        notice.state, notice.failure = Notice.State.FAILED, str(error)[:200]
        notice.save(update_fields=["state", "failure"])
        return {"state": notice.state}
    notice.state, notice.sent_at = Notice.State.SENT, now
    notice.save(update_fields=["state", "sent_at"])
    return {"state": notice.state}


def register() -> None:
    """Let due work send messages."""
    due_work.register(SEND, send_notice, lease=timedelta(minutes=1), tries=6)
