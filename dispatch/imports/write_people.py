"""Writing people, cards and the firm's licenses. What is there already is brought up to date."""

from collections.abc import Sequence

from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.contrib.auth.models import User
from django.db.models import QuerySet

from dispatch.models import Card, FirmLicense, Person
from equipment.models import Warehouse
from equipment.sheets.checking import GoodRow
from jobs import access
from jobs.models import Area, Membership


def write_people(rows: Sequence[GoodRow]) -> None:
    """Users who cannot sign in until a password is set, their one role, and the person behind them."""
    warehouses = {warehouse.code: warehouse for warehouse in Warehouse.objects.select_related("area")}
    names = [row.values["user_name"] for row in rows]
    there = set(User.objects.filter(username__in=names).values_list("username", flat=True))
    User.objects.bulk_create(
        User(username=name, password=f"{UNUSABLE_PASSWORD_PREFIX}imported") for name in names if name not in there
    )
    _write_names({row.values["user_name"]: row.values["name"] for row in rows})
    users = {user.username: user for user in User.objects.filter(username__in=names)}
    Person.objects.bulk_create(
        (
            Person(
                user=users[row.values["user_name"]],
                area=warehouses[row.values["warehouse"]].area,
                name=row.values["name"],
                phone=row.values["phone"],
                home=warehouses[row.values["warehouse"]],
                can_lead=row.values["role"] == access.CREW_LEAD,
            )
            for row in rows
        ),
        update_conflicts=True,
        unique_fields=["user"],
        update_fields=["area", "name", "phone", "home", "can_lead"],
    )
    # A technician rides along: no room of the program is theirs, so there is no role to hold.
    wanted = [
        Membership(
            user=users[row.values["user_name"]],
            area=warehouses[row.values["warehouse"]].area,
            role=row.values["role"],
        )
        for row in rows
        if row.values["role"] in access.ROLES
    ]
    Membership.objects.filter(user__in=users.values()).delete()
    Membership.objects.bulk_create(wanted)


def _write_names(names: dict[str, str]) -> None:
    """The users' names as the people's, for the histories that say who did something: all but the last word first."""
    users = list(User.objects.filter(username__in=names))
    for user in users:
        first, _, last = names[user.username].strip().rpartition(" ")
        user.first_name, user.last_name = first.strip()[:150], last[:150]
    User.objects.bulk_update(users, ["first_name", "last_name"])


def write_cards(rows: Sequence[GoodRow]) -> None:
    """Cards by person, kind and state."""
    names = {row.values["user_name"] for row in rows}
    people = {person.user.username: person for person in _people(names)}
    Card.objects.bulk_create(
        (
            Card(
                person=people[row.values["user_name"]],
                kind=row.values["kind"],
                state=row.values["state"] or "",
                issued_on=row.values["issued_on"],
                expires_on=row.values["expires_on"],
            )
            for row in rows
        ),
        update_conflicts=True,
        unique_fields=["person", "kind", "state"],
        update_fields=["issued_on", "expires_on"],
    )


def write_firm_licenses(rows: Sequence[GoodRow]) -> None:
    """The firm's licenses by area, state and kind."""
    for row in rows:
        FirmLicense.objects.update_or_create(
            area=Area.objects.get(code=row.values["area"]),
            state=row.values["state"],
            kind=row.values["kind"],
            loan=None,
            defaults={"expires_on": row.values["expires_on"]},
        )


def _people(names: set[str]) -> QuerySet[Person]:
    return Person.objects.filter(user__username__in=names).select_related("user")
