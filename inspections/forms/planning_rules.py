"""Planning rules: narrowing their list, adding and ending one; the same for the lives of components, and meters."""

import django_filters
from django import forms
from django.db.models import Q
from django.utils import timezone

from fleet.canonical import canonical_json, digest_of
from fleet.catalogue import COMPONENT_KINDS
from fleet.forms.fields import day_field
from fleet.forms.filters import ListFilter, area_filter, site_filter, text_filter
from fleet.models import Area, Machine, MachineModel, Site
from fleet.models.components import kind_choices
from inspections.errors import Refused
from inspections.forms.signing import REASON_LENGTH
from inspections.models import LifeUnit, PlanningRule, Procedure, RuleSource
from inspections.models.component_lives import MOST_LIFE
from inspections.models.inspections import MOST_MINUTES
from inspections.models.planning_rules import COLUMN_OF, MOST_DAYS, MOST_MONTHS, MOST_WINDOW, feature_names
from inspections.planning.rule_choice import REACH_WORDS, Reach
from inspections.schedule.required_skills import refuse_unfit_skills, skills_asked_for

OF_A_SITE = (Reach.MACHINE, Reach.AREA, Reach.SITE)
REACHES = [(reach.value, words.capitalize()) for reach, words in REACH_WORDS.items()]
PLANNED, NOT_PLANNED = "planned", "not"
UNITS = [("months", "months"), ("days", "days")]
REFERENCE_HELP = "Title, edition and page; the paragraph; or who decided it and when."
DAYS_AHEAD = (30, 90, 180, 365)


class RuleFilter(forms.Form):
    """Narrows the list of rules."""

    procedure = forms.ModelChoiceField(Procedure.objects.all(), required=False, empty_label="Every procedure")
    reach = forms.ChoiceField(label="For", required=False, choices=[("", "Any machines"), *REACHES])
    view = forms.ChoiceField(
        label="Show", required=False, choices=[("", "In force and to come"), ("all", "Ended ones as well")]
    )


class RuleForm(forms.Form):
    """A rule. Exactly one of the fields that name machines is filled: the one that belongs to `reach`."""

    procedure = forms.ModelChoiceField(Procedure.objects.all(), empty_label="Choose a procedure")
    reach = forms.ChoiceField(label="For", choices=REACHES, initial=Reach.MODEL)
    machine = forms.CharField(label="Asset number", required=False, max_length=40, help_text="Only for one machine.")
    feature = forms.ChoiceField(
        label="Safety feature fitted", required=False, choices=lambda: [("", "None"), *feature_names()],
        help_text="Only for machines with a safety feature fitted.",
    )  # fmt: skip
    machine_model = forms.ModelChoiceField(
        MachineModel.objects.all(), required=False, empty_label="None", help_text="Only for one machine model."
    )
    area = forms.ModelChoiceField(
        Area.objects.none(), required=False, empty_label="None", help_text="Only for one area."
    )
    site = forms.ModelChoiceField(
        Site.objects.none(), required=False, empty_label="None", help_text="Only for one site."
    )
    planned = forms.ChoiceField(
        label="There the procedure is", choices=[(PLANNED, "Planned at this interval"), (NOT_PLANNED, "Not planned")]
    )
    every = forms.IntegerField(label="Every", required=False, min_value=1, max_value=max(MOST_DAYS, MOST_MONTHS))
    unit = forms.ChoiceField(label="Months or days", choices=UNITS)
    window_days = forms.IntegerField(
        label="On time within", required=False, min_value=0, max_value=MOST_WINDOW,
        help_text="Days either side of the due date.",
    )  # fmt: skip
    minutes = forms.IntegerField(
        label="Expected minutes", required=False, min_value=1, max_value=MOST_MINUTES,
        help_text="Used only until signed inspections say how long the work takes.",
    )  # fmt: skip
    skills = forms.CharField(
        label="Skills asked for", required=False, max_length=300,
        help_text="With commas between. Only who is confirmed for each is booked and signs. A more specific rule "
        "replaces them: name them again there.",
    )  # fmt: skip
    source = forms.ChoiceField(label="Based on", choices=RuleSource.choices)
    reference = forms.CharField(max_length=300, help_text=REFERENCE_HELP)
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why this interval here, or why not planned here.")
    from_date = day_field("In force from")

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")
        self.fields["site"].queryset = Site.objects.visible_to(person)
        if person.site_ids:  # any other rule reaches every site
            del self.fields["feature"], self.fields["machine_model"]
            self.fields["reach"].choices = [one for one in REACHES if one[0] in OF_A_SITE]

    def clean_machine(self):
        text = self.cleaned_data["machine"].strip()
        if not text:
            return None
        found = Machine.objects.visible_to(self.person).with_place().filter(asset_number__iexact=text).first()
        if found is None:
            raise forms.ValidationError(f"There is no machine “{text}”. Enter its asset number.")
        return found

    def clean_skills(self):
        """The names as a tuple, each once; one that is spelled like a known skill but for capitals is that skill."""
        known = {name.casefold(): name for name in skills_asked_for()}
        named = (" ".join(one.split()) for one in self.cleaned_data["skills"].split(","))
        skills = tuple({one.casefold(): known.get(one.casefold(), one) for one in named if one}.values())
        try:
            refuse_unfit_skills(skills, is_planned=True)
        except Refused as error:
            raise forms.ValidationError(str(error)) from None
        return skills

    def clean_from_date(self):
        from_date, today = self.cleaned_data["from_date"], timezone.localdate()
        if from_date < today:
            raise forms.ValidationError(f"{from_date} is in the past. Enter today, {today}, or a later day.")
        return from_date

    def clean(self):
        data = super().clean()
        own = COLUMN_OF.get(data.get("reach"), "")
        for column in filter(None, COLUMN_OF.values()):
            if column not in self.fields or column in self.errors:
                continue
            if column == own and not data.get(column):
                self.add_error(column, f"Choose one, as the rule is for {REACH_WORDS[Reach(data['reach'])]}.")
            elif column != own and data.get(column):
                self.add_error(column, "Leave this empty: the rule is for other machines, see “For”.")
        self._check_interval(data)
        return data

    def _check_interval(self, data):
        is_planned = data.get("planned") == PLANNED
        for name in ("every", "window_days"):
            if is_planned and data.get(name) is None and name not in self.errors:
                self.add_error(name, "Enter a whole number.")
        if not is_planned:
            for name in ("every", "window_days", "minutes"):
                if data.get(name) is not None:
                    self.add_error(name, "Leave this empty for a procedure that is not planned.")
            if data.get("skills"):
                self.add_error("skills", "Leave this empty for a procedure that is not planned.")
        most = MOST_MONTHS if data.get("unit") == "months" else MOST_DAYS
        if (data.get("every") or 0) > most:
            self.add_error("every", f"{data['every']} {data['unit']} are too many. Enter at most {most}.")

    @property
    def fields_of_rule(self):
        """What `add_planning_rule` takes, of a valid form."""
        data = self.cleaned_data
        names = ("procedure", "reach", "window_days", "minutes", "skills", "source", "reference", "reason", "from_date")
        column = COLUMN_OF[data["reach"]]
        return {
            **{name: data[name] for name in names},
            "target": data[column] if column else None,
            "is_planned": data["planned"] == PLANNED,
            "interval_months": data["every"] if data["unit"] == "months" else None,
            "interval_days": data["every"] if data["unit"] == "days" else None,
        }

    @property
    def unsaved_rule(self):
        """The rule as it would be added, for its preview."""
        fields = self.fields_of_rule
        target, column = fields.pop("target"), COLUMN_OF[fields["reach"]]
        fields["skills"] = ", ".join(fields["skills"])
        return PlanningRule(**fields, **({column: target} if column else {}))

    @property
    def token(self):
        """A short digest of what was sent, so that what is added is what the preview showed."""
        sent = {name: self.data.get(name, "") for name in self.fields}
        return digest_of(canonical_json(sent))[:16]


class EndForm(forms.Form):
    """Ends a rule or a life."""

    until_date = day_field("No longer in force from")
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why it should no longer count.")


class LifeForm(forms.Form):
    """How long the components of a kind last."""

    kind = forms.ChoiceField(label="Kind of component", choices=kind_choices)
    machine_model = forms.ModelChoiceField(
        MachineModel.objects.all(), required=False, empty_label="All models without a life of their own"
    )
    life = forms.IntegerField(label="Life", min_value=1, max_value=MOST_LIFE)
    unit = forms.ChoiceField(label="In", choices=LifeUnit.choices)
    source = forms.ChoiceField(label="Based on", choices=RuleSource.choices)
    reference = forms.CharField(max_length=300, help_text=REFERENCE_HELP)
    reason = forms.CharField(max_length=REASON_LENGTH, help_text="Why this life, such as who decided it.")
    from_date = day_field("In force from")


class MeterForm(forms.Form):
    """What the meter of a component showed, counted from the day on which it was fitted."""

    unit = forms.ChoiceField(label="In", choices=[one for one in LifeUnit.choices if one[0] != LifeUnit.MONTHS])
    used = forms.IntegerField(
        label="Since it was fitted", min_value=0, max_value=MOST_LIFE,
        help_text="If the meter did not begin at 0 then, enter the difference.",
    )  # fmt: skip
    read_on = day_field("Read on")
    note = forms.CharField(max_length=300, required=False)


class PartFilter(ListFilter):
    """Narrows the list of components that are due."""

    q = text_filter("Component, serial or machine")
    site = site_filter("machine__area__site")
    area = area_filter("machine__area")
    kind = django_filters.ChoiceFilter(
        label="Kind", choices=[(code, one.name) for code, one in COMPONENT_KINDS.items()], empty_label="Every kind"
    )
    days = django_filters.TypedChoiceFilter(
        label="Due within",
        choices=[(days, f"{days} days") for days in DAYS_AHEAD],
        coerce=int,
        empty_value=DAYS_AHEAD[1],
        method="of_the_list",
    )

    def find(self, rows, name, text):
        words = Q()
        for path in ("label", "serial", "lot", "part_number", "machine__asset_number"):
            words |= Q(**{f"{path}__icontains": text})
        return rows.filter(words)
