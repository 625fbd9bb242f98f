"""A night under way, a user of each role with a token, and the ids that requests to it can really name."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any
from uuid import uuid4

from django.apps import apps
from django.contrib.auth.models import User
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator

from dispatch.emergencies import send
from jobs import access, tokens
from jobs.models import Membership
from tests.dispatch import night as nights

ROLES = (access.DISPATCHER, access.WAREHOUSE, access.CREW_LEAD, access.MANAGER)
# What a name in an address or a body leads to: a model and the field that is sent.
NAMED: Mapping[str, tuple[str, str]] = {
    "alarm_id": ("equipment.Alarm", "pk"),
    "area": ("jobs.Area", "code"),
    "area_id": ("jobs.Area", "pk"),
    "call_id": ("jobs.Call", "pk"),
    "call_out_id": ("dispatch.CallOut", "pk"),
    "contact_id": ("jobs.Contact", "pk"),
    "crew_id": ("dispatch.Crew", "pk"),
    "discrepancy_id": ("equipment.Discrepancy", "pk"),
    "fast_count_id": ("equipment.FastCount", "pk"),
    "help_id": ("dispatch.HelpRequest", "pk"),
    "own_help_id": ("dispatch.HelpRequest", "pk"),
    "job_number": ("jobs.Job", "number"),
    "photo_id": ("jobs.Photo", "pk"),
    "code": ("equipment.Warehouse", "code"),
    "to_code": ("equipment.Warehouse", "code"),
    "vehicle_code": ("equipment.Vehicle", "code"),
    "job_id": ("jobs.Job", "pk"),
    "load_list_id": ("equipment.LoadList", "pk"),
    "model_id": ("equipment.EquipmentModel", "pk"),
    "move_id": ("equipment.Move", "pk"),
    "number": ("equipment.Unit", "number"),
    "person_id": ("dispatch.Person", "pk"),
    "place_id": ("equipment.Holder", "pk"),
    "plan_id": ("dispatch.Plan", "pk"),
    "point_id": ("jobs.MaterialPoint", "pk"),
    "pool_id": ("equipment.Pool", "pk"),
    "promise_id": ("jobs.Promise", "pk"),
    "reservation_id": ("equipment.Reservation", "pk"),
    "shift_id": ("dispatch.Shift", "pk"),
    "token_id": ("jobs.ApiToken", "pk"),
    "vehicle_id": ("equipment.Vehicle", "pk"),
    "visit_id": ("jobs.Visit", "pk"),
    "warehouse_id": ("equipment.Warehouse", "pk"),
}


@dataclass(frozen=True)
class World:
    """Users and the tokens that sign them in, by role; ids that are there, by the name under which they are sent."""

    users: Mapping[str, User]
    secrets: Mapping[str, str]
    ids: Mapping[str, tuple[Any, ...]]

    def headers(self, role: str) -> dict[str, str]:
        """What signs the role in; nothing for nobody."""
        return {"Authorization": f"Token {self.secrets[role]}"} if role in self.secrets else {}


def world() -> World:
    """Make it: a crew was sent to a call, another call is open."""
    night = nights.night()
    night.call()
    send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    users = {role: _user(role, night) for role in ROLES}
    return World(users, {role: _secret(user, users[access.MANAGER]) for role, user in users.items()}, known_ids())


@cache
def description() -> dict[str, Any]:
    """The OpenAPI description, made once."""
    found: dict[str, Any] = json.loads(json.dumps(SchemaGenerator().get_schema(request=None, public=True)))
    return found


def known_ids() -> dict[str, tuple[Any, ...]]:
    """Some ids of each kind that the database has."""
    found = {}
    for name, (label, field) in NAMED.items():
        model: Any = apps.get_model(label)
        found[name] = tuple(model.objects.order_by("pk").values_list(field, flat=True)[:4])
    return found


def _user(role: str, night: nights.Night) -> User:
    if role == access.CREW_LEAD:
        return night.cast.lead
    user = User.objects.create(username=f"contract-{role}")
    Membership.objects.create(user=user, role=role, area=None if role == access.MANAGER else night.cast.area)
    return user


def _secret(user: User, manager: User) -> str:
    verbs = tuple(sorted(verb for verb in access.VERBS if access.may(user, verb) and verb not in tokens.NEVER))
    now: datetime = timezone.now()
    key = uuid4()
    tokens.make_token(
        key=key, actor=manager, now=now, user_name=user.username, name="contract", days=30, reads=True, verbs=verbs
    )
    return tokens.secret_of(key)
