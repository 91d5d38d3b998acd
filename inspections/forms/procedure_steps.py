"""One step of a draft in plain form fields, its limits, and the steps that can be added."""

from django import forms

from fleet.catalogue import COMPONENT_KINDS, FEATURES, GASES, Need
from fleet.catalogue.gaps import NEED_WORDS
from fleet.forms.fields import NumberField
from inspections.at_bench.procedure_shape import LONGEST_STEP_TITLE, LONGEST_TEXT, LONGEST_TITLE, MOST_LIMITS
from inspections.bench import TESTS, UNITS, get_test
from inspections.bench.limits import BASES
from inspections.forms.procedure_drafts import CodeField, RemovableForms, text_area

OTHER_GAS = "other gas"
GROUPS = {
    "Step": ("title", "code", "essential", "purpose", "instruction", "item", "caution", "source"),
    "On which machines": ("feature", "or_feature", "needs", "component", "gas", "each"),
    "Results and retests": ("conditional", "repeat_after"),
}
BASIS_WORDS = {"seen": "source read", "local": "decided by the department"}


def _catalogue(catalogue, empty):
    return [("", empty), *((code, one.name) for code, one in catalogue.items())]


PASSAGES = (
    "Words for machines with certain equipment go in curly brackets, those for others behind the second bar: "
    "{pipeline|With the pipeline disconnected, open|Open} the cylinder."
)


class StepForm(forms.Form):
    """Every field of a step but its limits; fields of the bench test's choices and rules are added to them."""

    title = forms.CharField(max_length=LONGEST_STEP_TITLE)
    code = CodeField(
        help_text="Records and earlier results find the step by its code. Keep it while the step is the same."
    )
    essential = forms.BooleanField(
        required=False, label="Essential: a failed result opens an essential finding, and withdrawal is proposed"
    )
    purpose = text_area("Purpose", rows=2, help_text="What the step is for, in a sentence.")
    instruction = text_area(
        "Instruction", rows=5, help_text=f"What the technician does, in a sentence or two. {PASSAGES}"
    )
    item = text_area("Statement", rows=3, help_text="For an observation: the statement that must be true.")
    caution = text_area(
        "Caution", rows=2, help_text="A danger of this step. The manufacturer's instructions come first."
    )
    source = forms.CharField(
        required=False, max_length=LONGEST_TEXT, help_text="Where the step comes from: publication, edition, clause."
    )
    feature = forms.ChoiceField(
        required=False, label="Safety feature", choices=lambda: _catalogue(FEATURES, "No safety feature"),
        help_text="The step applies unless this feature is recorded as not fitted. Not known counts as fitted.",
    )  # fmt: skip
    or_feature = forms.ChoiceField(
        required=False, label="Or safety feature", choices=lambda: _catalogue(FEATURES, "No second one"),
        help_text="The step applies where either of the two does.",
    )  # fmt: skip
    needs = forms.MultipleChoiceField(
        required=False, label="Not on a machine of which it is known that", widget=forms.CheckboxSelectMultiple,
        choices=lambda: [(str(need), NEED_WORDS[need]) for need in Need],
    )  # fmt: skip
    component = forms.ChoiceField(
        required=False, label="One step for each", choices=lambda: _catalogue(COMPONENT_KINDS, "No kind of component")
    )
    gas = forms.ChoiceField(
        required=False, label="Only on machines that deliver", choices=lambda: _catalogue(GASES, "Any gas")
    )
    each = forms.BooleanField(required=False, label="One step for each gas other than oxygen")
    repeat_after = forms.MultipleChoiceField(
        required=False, label="Repeated in a retest after work on",
        choices=lambda: [(code, one.name) for code, one in COMPONENT_KINDS.items()],
        help_text="Beside the components of its safety feature. Hold Ctrl to choose several.",
    )  # fmt: skip
    conditional = forms.ChoiceField(
        required=False, label="A conditional pass",
        choices=[("", "opens a finding if the step is essential, else leaves a remark"),
                 ("finding", "opens a finding"), ("remark", "leaves a remark")],
    )  # fmt: skip

    def __init__(self, *args, step, **kwargs):
        self.step = step
        super().__init__(*args, initial=_initial(step), **kwargs)
        test = TESTS.get(step["test"])
        for spec in test.choices if test else ():
            offered = [("", "chosen by the technician"), *spec.options]
            label = f"{spec.label} is"
            self.fields[f"choice-{spec.key}"] = forms.ChoiceField(label=label, choices=offered, required=False)
        for spec in test.results if test else ():
            if offered := _rules(test, step, spec):
                label = f"{spec.label} is judged by"
                self.fields[f"rule-{spec.key}"] = forms.ChoiceField(label=label, choices=offered, required=False)

    @property
    def groups(self):
        """The fields under their headings, as pairs."""
        named = {title: list(names) for title, names in GROUPS.items()}
        named["Results and retests"] += [name for name in self.fields if name not in self.base_fields]
        return [(title, [self[name] for name in names]) for title, names in named.items()]

    @property
    def written(self):
        """The step as it is written now. Keys that have no field stay as they are; empty ones are left out."""
        data = self.cleaned_data
        data = {**data, "each": OTHER_GAS if data["each"] else ""}
        plain = {key: data[key] for key in self.base_fields if data[key] or self.step.get(key) == data[key]}
        tables = {"choices": self._chosen("choice-"), "rules": self._chosen("rule-")}
        rest = {key: value for key, value in self.step.items() if key not in {*self.base_fields, *tables}}
        return rest | plain | {key: table for key, table in tables.items() if table}

    def _chosen(self, start):
        fields = {
            name.removeprefix(start): value for name, value in self.cleaned_data.items() if name.startswith(start)
        }
        return {key: value for key, value in fields.items() if value}


def _initial(step):
    tables = (("choice-", "choices"), ("rule-", "rules"))
    chosen = {f"{start}{key}": value for start, name in tables for key, value in step.get(name, {}).items()}
    return {**step, "each": bool(step.get("each")), **chosen}


def _rules(test, step, spec):
    """The rules that a step can name for a result: its own, and those of the test."""
    own = [(one["rule"], one["title"]) for one in step.get("limit", []) if one.get("key") == spec.key]
    published = [(one.rule, one.title) for one in test.default_limits if one.key == spec.key]
    offered = dict([*published, *own])
    return [("", "the rule that its year of build and the site call for"), *offered.items()] if offered else []


class LimitRowForm(forms.Form):
    """One limit that the procedure states itself, in its own unit."""

    key = forms.ChoiceField(label="Result")
    title = forms.CharField(max_length=LONGEST_TITLE, help_text="As the record names it.")
    rule = CodeField(label="Code of the rule", help_text="Such as local-2026. A record names the rule that judged.")
    lower = NumberField(label="At least", required=False)
    upper = NumberField(label="At most", required=False)
    unit = forms.ChoiceField(label="Unit")
    source = forms.CharField(max_length=LONGEST_TEXT, help_text="Where it is published, or who decided it and when.")
    edition = forms.CharField(max_length=LONGEST_TITLE, required=False)
    basis = forms.ChoiceField(choices=[(one, BASIS_WORDS.get(one, one)) for one in reversed(BASES)])
    note = forms.CharField(max_length=LONGEST_TEXT, required=False)

    def __init__(self, *args, test, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["key"].choices = [(spec.key, f"{spec.label} ({spec.unit})") for spec in test.results]
        units = dict.fromkeys(unit for spec in test.results for unit in UNITS[spec.dimension])
        self.fields["unit"].choices = [(unit, unit) for unit in units]
        for name in ("key", "unit", "basis"):  # a row of which a browser sent the first choices alone is empty
            self.fields[name].initial = next((value for value, _ in self.fields[name].choices), "")

    @property
    def limit(self):
        data = {name: self.cleaned_data[name] for name in self.base_fields}
        return {name: value for name, value in data.items() if value not in (None, "")}


LimitForms = forms.formset_factory(
    LimitRowForm, formset=RemovableForms, extra=1, can_delete=True, max_num=MOST_LIMITS, can_delete_extra=False
)


def limit_forms(step, data=None):
    """The set of limit forms of a step."""
    kwargs = {"test": get_test(step["test"])}
    return LimitForms(data, prefix="limit", initial=step.get("limit", []), form_kwargs=kwargs)


def limits_of(forms_sent):
    """Return the limits of a valid set of limit forms."""
    kept = [one for one in forms_sent if one.cleaned_data and not one.cleaned_data.get("DELETE")]
    return [one.limit if one.has_changed() else dict(one.initial) for one in kept]


def after_choices(content):
    steps = [(step["code"], f"after {number}. {step['title']}") for number, step in enumerate(content["step"], start=1)]
    return [("", "at the end"), *steps]


class AddForm(forms.Form):
    """Where among the steps of a draft the new ones come."""

    after = forms.ChoiceField(label="Where", required=False)

    def __init__(self, *args, content, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["after"].choices = after_choices(content)


class AddSharedForm(AddForm):
    prefix = "shared"
    steps = forms.MultipleChoiceField(
        label="Shared steps", widget=forms.CheckboxSelectMultiple, error_messages={"required": "Choose a step first."}
    )
    field_order = ["steps", "after"]

    def __init__(self, *args, shared, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["steps"].choices = [(code, step["title"]) for code, step in shared.items()]


class AddTestForm(AddForm):
    prefix = "own"
    test = forms.ChoiceField(label="Bench test", choices=lambda: [(one.code, one.title) for one in TESTS.values()])
    title = forms.CharField(
        max_length=LONGEST_STEP_TITLE, required=False, help_text="Leave it empty for the title of the bench test."
    )
    code = CodeField(required=False, help_text="Leave it empty for the code of the bench test.")
    field_order = ["test", "title", "code", "after"]
