"""How messages go to one of us, or to somebody of a job."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from dispatch.models import Person
from dispatch.transports import EMAIL
from jobs import journal
from jobs.models import Contact, WaysToReach
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case


@dataclass(frozen=True)
class Reached:
    """How somebody is reached from now on; empty: as usual here."""

    person_id: int | None
    contact_id: int | None
    reach_by: str


@use_case("set_how_to_reach", private=("email",))
def set_how_to_reach(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    reach_by: str,
    person_id: int | None = None,
    contact_id: int | None = None,
    email: str | None = None,
) -> Reached:
    """
    Choose `sms`, `email`, `console` or "" (as usual here) for one person or contact, with the e-mail address.

    :raises Unusable: if the way is none of these, or e-mail is chosen and no address is known.
    """
    if reach_by not in WaysToReach.values:
        raise Unusable("Choose text message, e-mail, the log, or as usual here.", where="reach_by")
    if (person_id is None) == (contact_id is None):
        raise Unusable("Name one person or one contact.", where="person_id")
    address = None if email is None else email.strip()
    if address:
        try:
            validate_email(address)
        except ValidationError as error:
            raise Unusable("This is no e-mail address, such as name@example.com.", where="email") from error
    if person_id is not None:
        return _person(person_id, reach_by, address, actor, now)
    assert contact_id is not None
    return _contact(contact_id, reach_by, address, actor, now)


def _person(person_id: int, reach_by: str, email: str | None, actor: User, now: datetime) -> Reached:
    person = Person.objects.select_for_update(of=("self",)).select_related("user").filter(pk=person_id).first()
    if person is None:
        raise NotThere("There is no such person.", where="person_id")
    if email is not None:
        person.user.email = email
        person.user.save(update_fields=["email"])
    _needs_address(reach_by, person.user.email)
    person.reach_by = reach_by
    person.save(update_fields=["reach_by"])
    data = {"person": person_id, "reach_by": reach_by}
    journal.note(kind="way_to_reach", actor=actor, now=now, area_id=person.area_id, data=data)
    return Reached(person_id, None, reach_by)


def _contact(contact_id: int, reach_by: str, email: str | None, actor: User, now: datetime) -> Reached:
    contact = Contact.objects.select_for_update(of=("self",)).select_related("job").filter(pk=contact_id).first()
    if contact is None:
        raise NotThere("There is no such contact.", where="contact_id")
    if email is not None:
        contact.email = email
    _needs_address(reach_by, contact.email)
    contact.reach_by = reach_by
    contact.save(update_fields=["reach_by", "email"])
    data = {"contact": contact_id, "reach_by": reach_by}
    journal.note(kind="way_to_reach", actor=actor, now=now, job=contact.job, data=data)
    return Reached(None, contact_id, reach_by)


def _needs_address(reach_by: str, email: str) -> None:
    if reach_by == EMAIL and not email:
        raise Unusable("Give the e-mail address, too.", where="email")
