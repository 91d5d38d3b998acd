"""The answer to one item of the checklist at the end of a machine."""

from django import forms

from inspections.decommissioning.checklist import ROUTES
from inspections.forms.attachments import file_field
from inspections.models import DecommissioningAnswer
from inspections.models.decommissioning import LONGEST_WORDS


class ItemForm(forms.Form):
    """`seen` identifies the answer that the page showed."""

    state = forms.ChoiceField(
        label="Answer", choices=DecommissioningAnswer.State.choices, widget=forms.RadioSelect,
        error_messages={"required": "Choose “Done” or “Does not apply”."},
    )  # fmt: skip
    route = forms.ChoiceField(
        label="If it is done: where it goes", choices=list(ROUTES.items()), widget=forms.RadioSelect, required=False
    )
    words = forms.CharField(
        label="Remark, or why it does not apply", max_length=LONGEST_WORDS, required=False,
        widget=forms.Textarea({"rows": 3}), help_text="Who did it, to whom it went, the number of a receipt.",
    )  # fmt: skip
    file = file_field("Proof", required=False)
    seen = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args, item, accepted_words="", **kwargs):
        super().__init__(*args, **kwargs)
        if not item.routes:
            del self.fields["route"]
        wanted = f"As a rule: {item.proof.lower()}. " if item.proof else ""
        self.fields["file"].help_text = f"{wanted}{accepted_words}"
