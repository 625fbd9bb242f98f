"""What the warehouse types and scans. Every form carries a client-made key, so that sending twice is sending once."""

from collections.abc import Iterable
from typing import Any
from uuid import uuid4

from django import forms

from equipment.custody.conditions import WORDS
from equipment.models import Condition

Choices = Iterable[tuple[int, str]]


class KeyedForm(forms.Form):
    """A form that writes."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)


class LateForm(KeyedForm):
    """A form that may come hours later, from a device without a network: it says when it happened."""

    happened_at = forms.DateTimeField(required=False)


class ScanForm(KeyedForm):
    """The big field: one number, or several divided by blanks."""

    numbers = forms.CharField(
        max_length=400, error_messages={"required": "Nothing was scanned. Scan a tag or type its four digits."}
    )


class TimedScanForm(ScanForm, LateForm):
    """A scan that may come late."""


class LateScanForm(TimedScanForm):
    """A scan that may come late; `already_happened` when the unit moved whatever the record says of it."""

    already_happened = forms.BooleanField(required=False)


class UndoForm(KeyedForm):
    """Taking back one scan."""

    move_id = forms.IntegerField(min_value=1)


class StepsForm(LateForm):
    """Saying that everything a unit's state asks for was done."""

    number = forms.CharField(max_length=12)
    steps = forms.MultipleChoiceField(choices=list(WORDS.items()))


class ConditionForm(LateForm):
    """Saying that a unit is broken, dirty or to be held back."""

    number = forms.CharField(max_length=12)
    condition = forms.ChoiceField(
        choices=[(c.value, c.label) for c in (Condition.BROKEN, Condition.NOT_YET_CLEANED, Condition.HELD_BACK)],
        error_messages={"required": "Say what is wrong with it."},
    )
    note = forms.CharField(max_length=120, required=False)


class NumberForm(KeyedForm):
    """Something about one unit of a list."""

    number = forms.CharField(max_length=12)


class NotFoundForm(LateForm):
    """Saying that a unit was looked for and is not there."""

    number = forms.CharField(max_length=12)
    note = forms.CharField(max_length=120, required=False)


class DrawForm(KeyedForm):
    """Drawing today's counting list."""


class ExplainForm(KeyedForm):
    """Explaining a difference: a usual reason, words of one's own, or both."""

    REASONS = (
        "Moved without a scan",
        "Taken by another crew",
        "Left at a job",
        "Wrong number scanned or typed",
        "Tag missing or unreadable",
    )

    id = forms.IntegerField(min_value=1)
    reason = forms.ChoiceField(choices=[(word, word) for word in REASONS], required=False)
    words = forms.CharField(max_length=240, required=False)

    def explanation(self) -> str:
        """Both parts as one sentence; empty if nothing was said."""
        parts = (self.cleaned_data["reason"], self.cleaned_data["words"].strip())
        return ": ".join(part for part in parts if part)


class FastCountForm(LateForm):
    """So many units of a model, taken onto a vehicle."""

    vehicle_id = forms.TypedChoiceField(coerce=int, label="Vehicle")
    model_id = forms.TypedChoiceField(coerce=int, label="Model")
    quantity = forms.IntegerField(
        min_value=1, max_value=100, label="How many", error_messages={"required": "Say how many were loaded."}
    )
    note = forms.CharField(max_length=120, required=False, label="For which job, or why")

    def __init__(self, *args: Any, vehicles: Choices = (), models: Choices = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vehicle_id"].choices = list(vehicles)  # type: ignore[attr-defined]
        self.fields["model_id"].choices = list(models)  # type: ignore[attr-defined]


class RentForm(LateForm):
    """Units that a supplier brought: one line for each, our number and the supplier's."""

    supplier = forms.CharField(max_length=80, error_messages={"required": "Name the supplier."})
    model_id = forms.TypedChoiceField(coerce=int, label="Model")
    daily_cost = forms.DecimalField(
        min_value=0,
        max_value=10_000,
        decimal_places=2,
        label="Dollars a day for each",
        error_messages={"required": "Say what one unit costs a day, in dollars."},
    )
    units = forms.CharField(
        max_length=2_000,
        label="Numbers",
        help_text="One unit a line: our number, a blank, the supplier's number. For example: R12 4471",
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": "Give at least one unit: our number, a blank, the supplier's number."},
    )

    def __init__(self, *args: Any, models: Choices = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["model_id"].choices = list(models)  # type: ignore[attr-defined]

    def clean_units(self) -> tuple[tuple[str, str], ...]:
        """((our number, the supplier's number), ...)"""
        pairs = [tuple(line.split(maxsplit=1)) for line in self.cleaned_data["units"].splitlines() if line.strip()]
        for place, pair in enumerate(pairs, start=1):
            if len(pair) != 2 or len(pair[1]) > 40:
                raise forms.ValidationError(
                    f"Line {place} needs two numbers: ours, a blank, and the supplier's (at most 40 characters)."
                )
        if len(pairs) > 100:
            raise forms.ValidationError("Enter at most 100 units at once.")
        return tuple((ours, theirs.strip()) for ours, theirs in pairs)


class CallOffForm(LateForm):
    """Rented units that go back, and the number by which the supplier took note of it."""

    units = forms.MultipleChoiceField(error_messages={"required": "Choose the units that are called off."})
    call_off_number = forms.CharField(
        max_length=40,
        error_messages={"required": "Ask the supplier for the call-off number; it proves when the charge ended."},
    )

    def __init__(self, *args: Any, numbers: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["units"].choices = [(number, number) for number in numbers]  # type: ignore[attr-defined]


class RepairForm(LateForm):
    """A unit that goes out to the repairer, with what is wrong."""

    numbers = forms.CharField(
        max_length=400, error_messages={"required": "Say which unit: scan it or type its number."}
    )
    note = forms.CharField(max_length=120, error_messages={"required": "Say what is wrong with it, for the repairer."})


class TagsForm(forms.Form):
    """Which tags to print: a model, or a range of numbers, both ends included; with both, the model's in the range."""

    first = forms.CharField(max_length=12, required=False)
    last = forms.CharField(max_length=12, required=False)
    model_id = forms.IntegerField(min_value=1, required=False)

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if not given.get("model_id") and not (given.get("first") and given.get("last")):
            raise forms.ValidationError("Name the first and the last number of the tags, or choose a model.")
        return given


class FindForm(forms.Form):
    """Looking a unit up by number, model or place."""

    text = forms.CharField(max_length=60, required=False)
