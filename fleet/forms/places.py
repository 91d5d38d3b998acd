"""Sites and areas."""

from django import forms

from fleet.models import Area, Site


class SiteForm(forms.ModelForm):
    class Meta:
        model = Site
        fields = [
            "name", "altitude_m", "time_zone", "two_for_release", "two_for_amendment", "two_for_finding",
            "two_for_limit", "signer_may_release",
        ]  # fmt: skip
        help_texts = {"time_zone": "A name from the IANA list, such as Europe/Lisbon."}


class NewSiteForm(SiteForm):
    """A new site also gets the code by which a register file names it."""

    class Meta(SiteForm.Meta):
        fields = ["code", *SiteForm.Meta.fields]


class AreaForm(forms.ModelForm):
    class Meta:
        model = Area
        fields = ["name", "minimum_machines"]

    def clean_name(self):
        name = self.cleaned_data["name"].strip()
        taken = Area.objects.filter(site=self.instance.site, name__iexact=name).exclude(pk=self.instance.pk)
        if taken.exists():
            raise forms.ValidationError(
                f"{self.instance.site} already has an area called “{name}”. Enter another name."
            )
        return name
