"""What a manager types about a loan."""

from datetime import date
from typing import Any

from django import forms

from dispatch.lending import LentCard, LentPerson, LentVehicle
from equipment.models import EquipmentModel, Warehouse
from jobs.models import Area

VEHICLE_KINDS = (("air_movers", "air_mover"), ("dehumidifiers", "lgr"), ("air_scrubbers", "air_scrubber"))


def read_cards(text: str) -> tuple[LentCard, ...]:
    """
    Lines of a word, perhaps a state, perhaps a day (2027-05-31).

    :raises forms.ValidationError: with the number of the line that cannot be read.
    """
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.split()
        if not words:
            continue
        kind, state, until = words[0].lower(), "", None
        for word in words[1:]:
            if len(word) == 2 and word.isalpha():
                state = word.upper()
                continue
            try:
                until = date.fromisoformat(word)
            except ValueError as error:
                raise forms.ValidationError(
                    f"Line {number}: {word[:20]!r} is no state (WA) and no day (2027-05-31)."
                ) from error
        found.append(LentCard(kind, state, until))
    return tuple(found)


def _lines(label: str, rows: int = 3, *, required: bool = True) -> forms.CharField:
    area = forms.Textarea(attrs={"rows": rows})
    return forms.CharField(label=label, max_length=1_000, required=required, widget=area)


def _moment(label: str) -> forms.DateTimeField:
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    return forms.DateTimeField(label=label, widget=widget)


class LoanForm(forms.Form):
    """Whose, agreed with whom, where, how long."""

    firm = forms.CharField(label="Firm that lends", max_length=60)
    agreed_with = forms.CharField(label="Who there agreed", max_length=80)
    warehouse_id = forms.TypedChoiceField(label="Warehouse", coerce=int)
    starts_at = _moment("From")
    ends_at = _moment("Until")

    def __init__(self, *args: Any, area: Area, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Warehouse.objects.filter(area=area).order_by("name").values_list("pk", "name")
        self._choose("warehouse_id", list(rows))

    def _choose(self, name: str, choices: list[tuple[Any, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices


class UnitsForm(LoanForm):
    """Which machines, by both numbers."""

    model_id = forms.TypedChoiceField(label="Model", coerce=int, help_text="The one of ours that is most like them.")
    units = _lines("Numbers, one unit a line: ours, a blank, theirs")

    def __init__(self, *args: Any, area: Area, **kwargs: Any) -> None:
        super().__init__(*args, area=area, **kwargs)
        models = EquipmentModel.objects.filter(loan=None).order_by("kind", "name")
        self._choose("model_id", list(models.values_list("pk", "name")))

    def clean_units(self) -> tuple[tuple[str, str], ...]:
        """((our number, their number), ...)"""
        pairs = [line.split(maxsplit=1) for line in self.cleaned_data["units"].splitlines() if line.strip()]
        for number, pair in enumerate(pairs, start=1):
            if len(pair) != 2 or len(pair[1]) > 40:
                raise forms.ValidationError(f"Line {number} needs two numbers: ours, a blank, and theirs.")
        return tuple((ours, theirs) for ours, theirs in pairs)


class CrewForm(LoanForm):
    """A crew, its people with their cards, its vehicle, and what its firm may do."""

    name = forms.CharField(label="Crew", max_length=40, help_text="A name for the board, such as L1.")
    licenses = _lines("Licenses of their firm, by state")
    lead_name = forms.CharField(label="Lead", max_length=80)
    lead_phone = forms.CharField(label="Lead's phone", max_length=20)
    lead_cards = _lines("Lead's cards")
    helper_name = forms.CharField(label="Helper", max_length=80, required=False)
    helper_phone = forms.CharField(label="Helper's phone", max_length=20, required=False)
    helper_cards = _lines("Helper's cards", required=False)
    vehicle = forms.CharField(label="Vehicle", max_length=40)
    gvwr_lb = forms.IntegerField(label="Rated weight (GVWR), lb", min_value=1, max_value=80_000)
    payload_lb = forms.IntegerField(label="Payload, lb", min_value=1, max_value=60_000)
    cargo_cuft = forms.IntegerField(label="Cargo room, cubic feet", min_value=0, max_value=4_000)
    air_movers = forms.IntegerField(label="Air movers it takes", min_value=0, max_value=200, initial=0)
    dehumidifiers = forms.IntegerField(label="Dehumidifiers it takes", min_value=0, max_value=50, initial=0)
    air_scrubbers = forms.IntegerField(label="Air scrubbers it takes", min_value=0, max_value=50, initial=0)

    def clean_licenses(self) -> tuple[LentCard, ...]:
        return read_cards(self.cleaned_data["licenses"])

    def clean_lead_cards(self) -> tuple[LentCard, ...]:
        return read_cards(self.cleaned_data["lead_cards"])

    def clean_helper_cards(self) -> tuple[LentCard, ...]:
        return read_cards(self.cleaned_data["helper_cards"])

    def told(self) -> dict[str, Any]:
        """The arguments of `lend_crew`."""
        given = self.cleaned_data
        capacity = tuple((kind, given[name]) for name, kind in VEHICLE_KINDS if given[name])
        helper = LentPerson(given["helper_name"], given["helper_phone"], given["helper_cards"])
        whole = ("firm", "agreed_with", "warehouse_id", "starts_at", "ends_at", "name", "licenses")
        return {
            **{name: given[name] for name in whole},
            "lead": LentPerson(given["lead_name"], given["lead_phone"], given["lead_cards"]),
            "helper": helper if helper.name or helper.phone or helper.cards else None,
            "vehicle": LentVehicle(
                given["vehicle"], given["gvwr_lb"], given["payload_lb"], given["cargo_cuft"], capacity
            ),
        }
