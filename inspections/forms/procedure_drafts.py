"""Write a procedure on pages: begin a draft, its head, what it does not test, and its approval."""

from django import forms
from django.utils import timezone

from fleet.catalogue import FEATURES
from fleet.days import long_date
from fleet.forms.fields import day_field
from inspections.at_bench.procedure_files import MOST_BYTES
from inspections.at_bench.procedure_shape import (
    LONGEST_CODE,
    LONGEST_TEXT,
    LONGEST_TITLE,
    MOST_DAYS,
    MOST_IN_A_LIST,
    MOST_MONTHS,
    SLUG,
)
from inspections.forms.signing import DecisionForm
from inspections.models import Procedure, ProcedureVersion

VERSIONS_OFFERED = 200
CODE_WORDS = f"Letters, digits, hyphens and underscores, at most {LONGEST_CODE}. It cannot be changed later."


def text_area(label, *, rows=3, help_text="", **options):
    """A text of several lines, with line ends as a file has them."""
    field = LinesField(label=label, required=False, max_length=LONGEST_TEXT, help_text=help_text, **options)
    field.widget.attrs["rows"] = rows
    return field


class LinesField(forms.CharField):
    widget = forms.Textarea

    def to_python(self, value):
        return super().to_python(value).replace("\r\n", "\n").replace("\r", "\n")


class CodeField(forms.CharField):
    """The code of a procedure or a step."""

    def __init__(self, **options):
        super().__init__(max_length=LONGEST_CODE, **options)

    def clean(self, value):
        code = super().clean(value)
        if code and not SLUG.fullmatch(code):
            raise forms.ValidationError(
                f"“{code}” is not accepted. Accepted: letters, digits, hyphens and underscores, at most {LONGEST_CODE}."
            )
        return code


class EmptyDraftForm(forms.Form):
    prefix = "empty"
    title = forms.CharField(max_length=LONGEST_TITLE, help_text="As technicians will read it, such as Monthly check.")
    code = CodeField(help_text=CODE_WORDS)


class CopyDraftForm(forms.Form):
    """A copy becomes a new version of the same procedure, or with a code a new procedure."""

    prefix = "copy"
    version = forms.ModelChoiceField(ProcedureVersion.objects.none(), empty_label="Choose a version")
    code = CodeField(
        required=False,
        label="Code of a new procedure",
        help_text="Leave it empty to write a new version of the same procedure.",
    )
    title = forms.CharField(required=False, max_length=LONGEST_TITLE, label="Title of the new procedure")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        newest = ProcedureVersion.objects.order_by("-loaded_at", "-pk").values("pk")[:VERSIONS_OFFERED]
        offered = ProcedureVersion.objects.filter(pk__in=newest).defer("content").select_related("procedure")
        self.fields["version"].queryset = offered.order_by("procedure__code", "-number")

    def clean(self):
        data = super().clean()
        if bool(data.get("code")) != bool(data.get("title")):
            raise forms.ValidationError("A new procedure needs both a code and a title; a new version needs neither.")
        return data


class FileDraftForm(forms.Form):
    """`text` of the cleaned data is that of the file."""

    prefix = "file"
    file = forms.FileField(
        label="Procedure file",
        allow_empty_file=True,
        help_text="A TOML file as the page of a procedure exports it. With a known code it becomes a draft of a new "
        "version of that procedure.",
        widget=forms.ClearableFileInput({"accept": ".toml,application/toml"}),
        error_messages={"required": "Choose a file first."},
    )

    def clean(self):
        data, file = super().clean(), self.cleaned_data.get("file")
        if file is None:
            return data
        if file.size > MOST_BYTES:
            raise forms.ValidationError(f"{file.name} has {file.size:,} bytes; at most {MOST_BYTES:,} are accepted.")
        try:
            data["text"] = file.read().decode("utf-8").replace("\r\n", "\n")
        except UnicodeDecodeError as error:
            raise forms.ValidationError(
                f"{file.name} is not text in UTF-8: byte {error.start + 1:,} cannot be read. Save it as UTF-8."
            ) from None
        return data


class HeadForm(forms.Form):
    title = forms.CharField(max_length=LONGEST_TITLE)
    purpose = text_area("Purpose", help_text="What the procedure is for, in a sentence.")
    interval_months = forms.IntegerField(
        label="Interval in months", min_value=1, max_value=MOST_MONTHS, required=False,
        help_text="Leave it empty for a procedure that is done only when needed.",
    )  # fmt: skip
    window_days = forms.IntegerField(
        label="On time within", min_value=0, max_value=MOST_DAYS, help_text="Days either side of the due date."
    )
    contains = forms.ModelMultipleChoiceField(
        Procedure.objects.order_by("code"),
        to_field_name="code",
        label="Contains",
        required=False,
        help_text="Procedures whose steps are all in this one: a complete inspection settles their due date as well. "
        "Hold Ctrl to choose several.",
    )
    cautions = text_area("Cautions", rows=6, help_text="One on each line. They head the page of the procedure.")

    @staticmethod
    def initial_of(content):
        head = {key: content.get(key) for key in ("title", "purpose", "interval_months", "contains")}
        cautions = "\n".join(content.get("cautions", []))
        return {**head, "window_days": content.get("window_days", 14), "cautions": cautions}

    def clean_contains(self):
        return [procedure.code for procedure in self.cleaned_data["contains"]]

    def clean_cautions(self):
        lines = [line.strip() for line in self.cleaned_data["cautions"].split("\n") if line.strip()]
        if len(lines) > MOST_IN_A_LIST:
            raise forms.ValidationError(f"{len(lines)} lines are too many. Accepted: at most {MOST_IN_A_LIST}.")
        return lines

    @property
    def head(self):
        """What the draft keeps of it: nothing that is empty."""
        return {key: value for key, value in self.cleaned_data.items() if value not in (None, "", [])}


class NotTestedForm(forms.Form):
    """Safety features that no step tests, and why."""

    features = forms.MultipleChoiceField(
        label="Safety features",
        choices=lambda: [(code, one.name) for code, one in FEATURES.items()],
        help_text="Hold Ctrl to choose several.",
    )
    reason = forms.CharField(
        label="Why not",
        max_length=LONGEST_TEXT,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="A sentence for the page of the procedure.",
    )


class RemovableForms(forms.BaseFormSet):
    """Forms of the entries there are and of another one; each can be removed."""

    def add_fields(self, form, index):
        super().add_fields(form, index)
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = "Remove this entry"


NotTestedForms = forms.formset_factory(
    NotTestedForm, formset=RemovableForms, extra=1, can_delete=True, max_num=MOST_IN_A_LIST, can_delete_extra=False
)


def entries_of(forms_sent):
    """Return what is not tested, of a valid set of NotTestedForm."""
    kept = [one.cleaned_data for one in forms_sent if one.cleaned_data and not one.cleaned_data.get("DELETE")]
    return [{"features": one["features"], "reason": one["reason"].strip()} for one in kept]


class ApproveForm(DecisionForm):
    """Proposes a draft for approval, with the day from which it is to be in force."""

    from_date = day_field("In force from", help_text="Inspections that are started on that day or later follow it.")
    field_order = ["from_date", "reason", "password"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["reason"].help_text = "Why the procedure changes. At most 200 characters."

    def clean_from_date(self):
        from_date, today = self.cleaned_data["from_date"], timezone.localdate()
        if from_date < today:
            raise forms.ValidationError(
                f"{long_date(from_date)} is in the past. Accepted: {long_date(today)} or a later day."
            )
        return from_date


class MachineForm(forms.Form):
    machine = forms.CharField(label="Asset number of a machine", required=False, max_length=80)
