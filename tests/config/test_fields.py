"""How a field looks: label above, hint, field, and why it was refused, tied together for screen readers."""

import re

from django import forms


class Call(forms.Form):
    phone = forms.CharField(help_text="With the area code.")
    water = forms.ChoiceField(choices=[("1", "clean"), ("3", "from a sewer")], widget=forms.RadioSelect)
    running = forms.BooleanField(required=False)


def _order(markup: str, *parts: str) -> list[int]:
    return [markup.index(part) for part in parts]


def test_label_hint_field_refusal_in_this_order() -> None:
    form = Call({"phone": ""})

    markup = form["phone"].as_field_group()

    places = _order(markup, '<label for="id_phone">Phone</label>', "With the area code.", "<input", "errorlist")
    assert places == sorted(places)
    described = re.search(r'aria-describedby="([^"]+)"', markup)
    assert described
    for name in described[1].split():
        assert f'id="{name}"' in markup
    assert 'aria-invalid="true"' in markup


def test_choices_are_a_group_with_a_name() -> None:
    markup = Call()["water"].as_field_group()

    places = _order(markup, "<fieldset", "<legend>Water</legend>", 'type="radio"', "</fieldset>")
    assert places == sorted(places)


def test_single_tick_box_stands_before_its_label() -> None:
    markup = Call()["running"].as_field_group()

    places = _order(markup, 'class="field tick"', 'type="checkbox"', "<label")
    assert places == sorted(places)


def test_hint_is_escaped() -> None:
    form = Call()
    form.fields["phone"].help_text = "<b>"

    assert "&lt;b&gt;" in form["phone"].as_field_group()
