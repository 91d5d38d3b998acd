"""Setting and ending limits of a machine model or a site."""

from django import forms
from django.utils import timezone

from fleet.forms.fields import NumberField, day_field
from fleet.forms.passwords import PasswordForm
from fleet.models import MachineModel, Site
from inspections.bench import TESTS, UNITS
from inspections.forms.signing import REASON_LENGTH
from inspections.models.limit_sources import names_something


def result_choices():
    """Every result of every bench test, grouped by test: “test/result”."""
    return [
        (test.title, [(f"{test.code}/{spec.key}", f"{spec.label} ({spec.unit})") for spec in test.results])
        for test in TESTS.values()
    ]


def rule_choices():
    """Every published rule, grouped by the result that it judges: “test/result/rule”."""
    return [
        (
            f"{test.title}: {spec.label}",
            [(f"{test.code}/{spec.key}/{one.rule}", one.title) for one in test.default_limits if one.key == spec.key],
        )
        for test in TESTS.values()
        for spec in test.results
        if any(one.key == spec.key for one in test.default_limits)
    ]


def unit_choices():
    return [
        ("", "Choose a unit"),
        *[(dimension.title(), [(u, u) for u in units]) for dimension, units in UNITS.items()],
    ]


class ChosenLimitForm(forms.Form):
    """A limit of one result: by one of the published rules, or by figures of one's own."""

    result = forms.ChoiceField(choices=result_choices)
    rule = forms.ChoiceField(
        label="Published rule",
        choices=lambda: [("", "Own values"), *rule_choices()],
        required=False,
        help_text="Or leave this empty and enter values below.",
    )
    lower = NumberField(label="At least", required=False)
    upper = NumberField(label="At most", required=False)
    unit = forms.ChoiceField(choices=unit_choices, required=False, help_text="Pressures are gauge pressures.")

    def clean(self):
        data = super().clean()
        if data.get("rule") and not data["rule"].startswith(f"{data.get('result')}/"):
            self.add_error("rule", "This rule applies to another result. Choose one listed under the selected result.")
        has_figures = data.get("lower") is not None or data.get("upper") is not None
        if bool(data.get("rule")) == has_figures:
            raise forms.ValidationError("Enter either a published rule or your own values.")
        if has_figures and not data.get("unit"):
            self.add_error("unit", "Values need a unit.")
        return data


class LimitForm(ChosenLimitForm, PasswordForm):
    """A limit for a machine model or a site."""

    machine_model = forms.ModelChoiceField(
        MachineModel.objects.all(), label="For machine model", required=False, empty_label="No model, use site"
    )
    site = forms.ModelChoiceField(
        Site.objects.none(), label="For site", required=False, empty_label="No site, use model"
    )
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why the procedure's own limit is not suitable.")
    source = forms.CharField(
        max_length=300, help_text="Where the value is published, such as the manufacturer's service manual, page 41."
    )
    edition = forms.CharField(max_length=120, required=False)
    from_date = day_field("In force from")

    field_order = [
        "machine_model", "site", "result", "rule", "lower", "upper", "unit", "reason", "source", "edition", "from_date",
    ]  # fmt: skip

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)
        if person.site_ids:  # a model's limit reaches every site
            del self.fields["machine_model"]
            self.fields["site"].required = True

    def clean_reason(self):
        return _named(self.cleaned_data["reason"], "the reason, such as who decided it and when")

    def clean_source(self):
        return _named(self.cleaned_data["source"], "where the value is published, with edition and page")

    def clean_from_date(self):
        from_date, today = self.cleaned_data["from_date"], timezone.localdate()
        if from_date < today:
            raise forms.ValidationError(f"{from_date} is in the past, and records signed since then keep their limit. "
                                        f"Enter today, {today}, or a later day.")  # fmt: skip
        return from_date

    def clean(self):
        data = self.cleaned_data
        if bool(data.get("machine_model")) == bool(data.get("site")):
            raise forms.ValidationError("Choose either a machine model or a site.")
        return super().clean()

    @property
    def fields_of_limit(self):
        """What `set_limit_override` takes."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "password"}
        test_code, _, result_key = data.pop("result").partition("/")
        rule = data.pop("rule").rpartition("/")[2]
        kept = {**data, "unit": "" if rule else data["unit"]}
        return {**kept, "test_code": test_code, "result_key": result_key, "rule": rule}


def _named(text, what):
    if not names_something(text):
        raise forms.ValidationError(f"“{text}” cannot be looked up. Give {what}.")
    return text


class EndLimitForm(PasswordForm):
    until_date = day_field("No longer in force from", help_text="From this day the procedure's own limit applies.")
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why the limit should no longer apply.")
    field_order = ["until_date", "reason", "password"]

    def clean_until_date(self):
        until_date, today = self.cleaned_data["until_date"], timezone.localdate()
        if until_date < today:
            raise forms.ValidationError(f"{until_date} is in the past, and records signed since then keep their limit. "
                                        f"Enter today, {today}, or a later day.")  # fmt: skip
        return until_date


class LeaveLimitsForm(forms.Form):
    """Limits that were looked at and are left as proposed."""

    codes = forms.MultipleChoiceField(
        label="Looked at, and left as proposed", widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose the limits that were looked at."},
    )  # fmt: skip
    reason = forms.CharField(
        max_length=REASON_LENGTH, help_text="Who looked at them and when, and why they are not confirmed yet."
    )

    def __init__(self, *args, limits, **kwargs):
        super().__init__(*args, **kwargs)
        self.limits = limits
        self.fields["codes"].choices = [
            (one.code, f"{one.test.title}, {one.spec.label.lower()}: {one.limit.title}") for one in limits
        ]

    @property
    def chosen(self):
        return [one for one in self.limits if one.code in self.cleaned_data["codes"]]

    def clean_reason(self):
        return _named(self.cleaned_data["reason"], "the reason, such as who looked at them and when")


class TakeBackLimitForm(forms.Form):
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why the limit has to be looked at once more.")

    def clean_reason(self):
        return _named(self.cleaned_data["reason"], "the reason")


class ConfirmLimitForm(PasswordForm):
    """The edition in which somebody looked up a limit of their site."""

    edition = forms.CharField(
        max_length=120,
        label="Looked up in",
        help_text="Publication, edition and page that are in force at the site, such as ISO 7396-1:2016, page 12.",
    )
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Who decided that this limit applies here, and when.")
    field_order = ["edition", "reason", "password"]

    def clean_edition(self):
        return _named(self.cleaned_data["edition"], "the publication with edition and page")

    def clean_reason(self):
        return _named(self.cleaned_data["reason"], "the reason, such as who decided it and when")


class WithdrawConfirmationForm(PasswordForm):
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why the limit no longer counts as confirmed.")
    field_order = ["reason", "password"]

    def clean_reason(self):
        return _named(self.cleaned_data["reason"], "the reason")
