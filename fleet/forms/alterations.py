"""Planning an alteration on machines, carrying it out on one, leaving one out; the filter of the list."""

import django_filters
from django import forms

from fleet.catalogue.currencies import currency_choices
from fleet.circuit.alterations import ALTERATIONS
from fleet.forms.components import UpToToday
from fleet.forms.fields import day_field
from fleet.forms.filters import ListFilter, text_filter
from fleet.forms.money import SOURCE, amount_field
from fleet.models import AlterationPlan
from fleet.models.alterations import agent_choices, alteration_choices

MINUTES = {"required": False, "min_value": 0, "max_value": 10_000}


class AlterationFilter(ListFilter):
    q = text_filter("Title or reason")
    kind = django_filters.ChoiceFilter(label="Alteration", choices=alteration_choices, empty_label="Any")


class AlterationForm(forms.Form):
    """What is altered, why and from when; estimates for what no price is entered for. `seen` machines were shown."""

    kind = forms.ChoiceField(
        label="Alteration", choices=lambda: [("", "Choose an alteration"), *alteration_choices()],
        error_messages={"invalid_choice": "“%(value)s” is no alteration. Choose one from the list."},
    )  # fmt: skip
    agent = forms.ChoiceField(
        label="Agent that is withdrawn", required=False, choices=lambda: [("", "None"), *agent_choices()],
        help_text="Only where an agent is withdrawn.",
    )  # fmt: skip
    title = forms.CharField(max_length=120, help_text="The name under which the department finds it again.")
    reason = forms.CharField(
        max_length=2000, widget=forms.Textarea({"rows": 3}), help_text="Why, and who decided it: a policy, a notice."
    )
    from_date = day_field("From", help_text="The day from which machines may be altered.")
    minutes_each = forms.IntegerField(
        label="Minutes of own work on each machine", **MINUTES,
        help_text="With the test after it. Counts where no price of this alteration is entered.",
    )  # fmt: skip
    price_each = amount_field("Price for each machine", required=False, help_text="Components and bought work.")
    currency = forms.ChoiceField(required=False, choices=lambda: [("", "None"), *currency_choices()])
    price_source = forms.CharField(label="Source of the price", required=False, max_length=200, help_text=SOURCE)
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def clean(self):
        data = super().clean()
        kind = ALTERATIONS.get(data.get("kind"))
        if kind and kind.needs_agent and not data.get("agent"):
            self.add_error("agent", "Choose the agent whose vaporizer is taken off.")
        if kind and data.get("agent") and not kind.needs_agent:
            self.add_error("agent", "This alteration withdraws no agent. Choose none.")
        if data.get("price_each") is not None:
            for name, words in (("currency", "Choose its currency."), ("price_source", SOURCE)):
                if not data.get(name):
                    self.add_error(name, words)
        elif data.get("currency"):
            data["currency"] = ""
        return data


class ChosenMachinesForm(forms.Form):
    """The number of machines that the page showed, so that nobody adds what they did not see."""

    seen = forms.IntegerField(widget=forms.HiddenInput)


class CarryOutForm(UpToToday, forms.Form):
    """What was done on one machine. `seen` is the version of the circuit that the page showed."""

    done_on = day_field("Carried out on")
    evidence = forms.CharField(
        max_length=300, help_text="Work order, what was fitted with serial or lot, or what was seen on the machine."
    )
    minutes = forms.IntegerField(label="Minutes of work", **MINUTES)
    cost = amount_field("Cost", required=False, help_text="Components and bought work. Leave empty if not known.")
    currency = forms.ChoiceField(required=False, choices=lambda: [("", "None"), *currency_choices()])
    seen = forms.CharField(widget=forms.HiddenInput, max_length=40)

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_done_on(self):
        return self.check_day("done_on")

    def clean(self):
        data = super().clean()
        if data.get("cost") is not None and not data.get("currency"):
            self.add_error("currency", "Choose the currency of the cost.")
        return data


class LeaveOutForm(forms.Form):
    reason = forms.CharField(max_length=300, help_text="Why this machine is not altered, such as that it is retired.")


def plan_fields(form):
    """Return the fields of a plan of a valid AlterationForm."""
    names = {field.name for field in AlterationPlan._meta.fields}
    return {name: value for name, value in form.cleaned_data.items() if name in names}
