"""Forms of the public page of a label: a fault, and a check by a user."""

from django import forms

from inspections.label_page.form_tokens import nonce_of
from inspections.models import UserCheck
from inspections.models.labels import LIST_LENGTH, NAME_LENGTH, WHAT_LENGTH, WHERE_LENGTH

OTHER_FORM = (
    "Nothing was sent yet: this form was open for more than 12 hours, or it belongs to another label. Read what you "
    "entered below, then send it again."
)
WHO_HELP = "Your name, and where you can be reached."


class LabelForm(forms.Form):
    """A form bound to one label by its token. `nonce` is the random part of a token that is right."""

    # Not called a token: a form that a failure shows again leaves out fields whose names sound secret.
    ticket = forms.CharField(widget=forms.HiddenInput, required=False, max_length=400)
    nonce = ""

    def __init__(self, *args, label, kind, **kwargs):
        self.label, self.kind = label, kind
        super().__init__(*args, **kwargs)

    def clean(self):
        data = super().clean()
        self.nonce = nonce_of(data.pop("ticket", ""), self.label, self.kind)
        if self.nonce is None:
            raise forms.ValidationError(OTHER_FORM, code="token")
        return data

    @property
    def visible(self):
        return [field for field in self if not field.is_hidden]


class LabelFaultForm(LabelForm):
    what = forms.CharField(
        label="What happened?",
        max_length=WHAT_LENGTH,
        widget=forms.Textarea({"rows": 4}),
        error_messages={"required": "Say in a few words what happened."},
    )
    where = forms.CharField(
        label="Where is the machine?",
        max_length=WHERE_LENGTH,
        error_messages={"required": "Say where the machine is now, such as “Theatre 2”."},
    )
    who = forms.CharField(
        label="Who reports it?",
        max_length=NAME_LENGTH,
        widget=forms.TextInput({"autocomplete": "name"}),
        help_text=WHO_HELP,
        error_messages={"required": "Enter your name, so that the biomedical department can ask back."},
    )
    photograph = forms.FileField(
        label="Photograph",
        required=False,
        allow_empty_file=True,  # fleet/photographs says what is wrong with it
        widget=forms.FileInput({"accept": "image/jpeg,image/png,image/webp"}),
        help_text="No patient and no face on it. The place where it was taken is removed from the file.",
        error_messages={"max_length": "The name of the file is too long. Rename it, or send the report without it."},
    )


class UserCheckForm(LabelForm):
    by_name = forms.CharField(
        label="Your name",
        max_length=NAME_LENGTH,
        widget=forms.TextInput({"autocomplete": "name"}),
        error_messages={"required": "Enter your name: the check is recorded with it."},
    )
    check_list = forms.CharField(
        label="Check list used",
        max_length=LIST_LENGTH,
        error_messages={"required": "Name the check list that you used."},
    )
    result = forms.ChoiceField(
        label="Result",
        choices=UserCheck.Found.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the two."},
    )
    note = forms.CharField(
        label="Which problem?",
        max_length=WHAT_LENGTH,
        required=False,
        widget=forms.Textarea({"rows": 3}),
        help_text="Only if you found one. You can then report it as a fault.",
    )

    def clean(self):
        data = super().clean()
        if data.get("result") == UserCheck.Found.PROBLEM and not data.get("note"):
            self.add_error("note", "Say in a few words which problem you found.")
        return data
