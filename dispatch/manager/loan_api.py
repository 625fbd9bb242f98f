"""The API of what other firms lend."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import lending as crews
from dispatch.manager import loans
from dispatch.manager.api import ManagerView
from equipment import lending as units
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes


class LoansView(ManagerView):
    """What is lent to an area, apart from its own."""

    @reads(loans.Loans)
    def get(self, request: Request, area: str) -> Response:
        found, now = self.here(area)
        return self.answer(loans.loans(area=found, now=now))


class LoanIn(serializers.Serializer[Any]):
    """Whose, agreed with whom there, where it comes, and the half-open time."""

    firm = serializers.CharField(max_length=60)
    agreed_with = serializers.CharField(max_length=80)
    warehouse_id = serializers.IntegerField(min_value=1, max_value=2**63 - 1)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()


class LentUnitIn(serializers.Serializer[Any]):
    """One unit: our number for it, and its owner's."""

    number = serializers.CharField(max_length=20)
    their_number = serializers.CharField(max_length=40)


class LendUnitsIn(LoanIn):
    """Units that are here; `model_id` is the one of our models that is most like them."""

    model_id = serializers.IntegerField(min_value=1, max_value=2**63 - 1)
    units = LentUnitIn(many=True, allow_empty=False)

    def validate_units(self, value: list[dict[str, str]]) -> tuple[tuple[str, str], ...]:
        return tuple((row["number"], row["their_number"]) for row in value)


class LendUnitsView(UseCaseView):
    """Take in units that another firm lends."""

    verbs = {"POST": "lend_units"}
    roles = frozenset({access.MANAGER})

    @writes(LendUnitsIn, units.UnitsLent, status=201)
    def post(self, request: Request) -> Response:
        return self.answer(units.lend_units(**self.common(request), **read(LendUnitsIn, request)), status=201)


class LentCardIn(serializers.Serializer[Any]):
    """A card or a license: no state is everywhere, no day never lapses."""

    kind = serializers.SlugField(max_length=40)
    state = serializers.CharField(max_length=2, required=False, allow_blank=True)
    expires_on = serializers.DateField(required=False, allow_null=True)


class LentPersonIn(serializers.Serializer[Any]):
    """Somebody of the other firm."""

    name = serializers.CharField(max_length=80)
    phone = serializers.CharField(max_length=20)
    cards = LentCardIn(many=True, required=False)


class LentVehicleIn(serializers.Serializer[Any]):
    """Their vehicle; `capacity` is units by equipment kind."""

    name = serializers.CharField(max_length=40)
    gvwr_lb = serializers.IntegerField(min_value=1, max_value=80_000)
    payload_lb = serializers.IntegerField(min_value=1, max_value=60_000)
    cargo_cuft = serializers.IntegerField(min_value=0, max_value=4_000)
    capacity = serializers.DictField(child=serializers.IntegerField(min_value=0, max_value=1_000))


class LendCrewIn(LoanIn):
    """A crew for one shift."""

    name = serializers.CharField(max_length=40)
    lead = LentPersonIn()
    helper = LentPersonIn(required=False, allow_null=True)
    vehicle = LentVehicleIn()
    licenses = LentCardIn(many=True)


class LendCrewView(UseCaseView):
    """Take on a crew that another firm lends."""

    verbs = {"POST": "lend_crew"}
    roles = frozenset({access.MANAGER})

    @writes(LendCrewIn, crews.CrewLent, status=201)
    def post(self, request: Request) -> Response:
        sent = read(LendCrewIn, request)
        vehicle = sent.pop("vehicle")
        sent["vehicle"] = crews.LentVehicle(**{**vehicle, "capacity": tuple(sorted(vehicle["capacity"].items()))})
        sent["licenses"] = _cards(sent["licenses"])
        sent["lead"] = _person(sent["lead"])
        sent["helper"] = _person(sent["helper"]) if sent.get("helper") else None
        return self.answer(crews.lend_crew(**self.common(request), **sent), status=201)


class EndLoanView(UseCaseView):
    """End a loan; its units go back."""

    verbs = {"POST": "end_loan"}
    roles = frozenset({access.MANAGER})

    @writes(None, crews.LoanEnded)
    def post(self, request: Request, loan_id: int) -> Response:
        return self.answer(crews.end_loan(**self.common(request), loan_id=loan_id))


def _cards(rows: list[dict[str, Any]]) -> tuple[crews.LentCard, ...]:
    return tuple(crews.LentCard(**row) for row in rows)


def _person(row: dict[str, Any]) -> crews.LentPerson:
    return crews.LentPerson(row["name"], row["phone"], _cards(row.get("cards", [])))
