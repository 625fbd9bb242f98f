"""What the warehouse types and scans. Every form carries a client-made key, so that sending twice is sending once."""

from uuid import uuid4

from django import forms

from equipment.custody.conditions import WORDS
from equipment.models import Condition


class KeyedForm(forms.Form):
    """A form that writes."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)


class ScanForm(KeyedForm):
    """The big field: one number, or several divided by blanks."""

    numbers = forms.CharField(
        max_length=400, error_messages={"required": "Nothing was scanned. Scan a tag or type its four digits."}
    )


class UndoForm(KeyedForm):
    """Taking back one scan."""

    move_id = forms.IntegerField(min_value=1)


class StepsForm(KeyedForm):
    """Saying that everything a unit's state asks for was done."""

    number = forms.CharField(max_length=12)
    steps = forms.MultipleChoiceField(choices=list(WORDS.items()))


class ConditionForm(KeyedForm):
    """Saying that a unit is broken, dirty or to be held back."""

    number = forms.CharField(max_length=12)
    condition = forms.ChoiceField(
        choices=[(c.value, c.label) for c in (Condition.BROKEN, Condition.NOT_YET_CLEANED, Condition.HELD_BACK)],
        error_messages={"required": "Say what is wrong with it."},
    )
    note = forms.CharField(max_length=120, required=False)


class NotFoundForm(KeyedForm):
    """Saying that a unit was looked for and is not there."""

    number = forms.CharField(max_length=12)
    note = forms.CharField(max_length=120, required=False)


class TagsForm(forms.Form):
    """Which tags to print: a range of numbers, both ends included."""

    first = forms.CharField(max_length=12)
    last = forms.CharField(max_length=12)


class FindForm(forms.Form):
    """Looking a unit up by number, model or place."""

    text = forms.CharField(max_length=60, required=False)
