"""The filter of the retirement review, and a person's answer to a criterion."""

from django import forms

from fleet.models import Area, MachineModel, Site
from fleet.web.query_values import accepted_fields
from inspections.models import CriterionJudgement
from inspections.review import Conclusion


class ReviewForm(forms.Form):
    """Reads the filter from a query string; whatever is left out means all."""

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All sites")
    area = forms.ModelChoiceField(Area.objects.none(), required=False, empty_label="All areas")
    model = forms.ModelChoiceField(MachineModel.objects.all(), required=False, empty_label="All models")
    conclusion = forms.ChoiceField(
        choices=[("", "Any"), *((word, word.capitalize()) for word in Conclusion)], required=False
    )

    def __init__(self, data, *, person):
        super().__init__(data)
        self.fields["site"].queryset = Site.objects.visible_to(person)
        self.fields["area"].queryset = Area.objects.visible_to(person).select_related("site")

    def select(self, machines, site="area__site"):
        """Narrow the machines, or their kept reviews, by place and model; `site` is the path to their site."""
        asked = accepted_fields(self)
        for name, path in (("site", site), ("area", "area"), ("model", "model")):
            if asked.get(name):
                machines = machines.filter(**{path: asked[name]})
        return machines

    def keeps(self, review):
        """Return whether the conclusion is the one asked for. Call after `select`."""
        wanted = self.cleaned_data.get("conclusion")
        return not wanted or review.conclusion == wanted

    def keep(self, kept):
        """Keep the kept reviews with the conclusion asked for. Call after `select`."""
        wanted = self.cleaned_data.get("conclusion")
        return kept.filter(conclusion=list(Conclusion).index(wanted)) if wanted else kept

    def in_words(self):
        """Return the conditions as label and value. Call after `select`."""
        pairs = [(self[name].label, self.cleaned_data.get(name)) for name in self.fields]
        return [(label, str(value)) for label, value in pairs if value]


class JudgementForm(forms.Form):
    answer = forms.ChoiceField(
        label="Is this true of this machine?", choices=CriterionJudgement.Answer, widget=forms.RadioSelect
    )
    reason = forms.CharField(
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What you observed or know. It must be clear to a reader in a year.",
        error_messages={"required": "Give a reason: it appears in the review and in the PDF."},
    )

    def clean_reason(self):
        reason = self.cleaned_data["reason"].strip()
        if not reason:
            raise forms.ValidationError("Give a reason: it appears in the review and in the PDF.")
        return reason
