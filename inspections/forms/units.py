"""The units of an inspection, as a form offers them."""

from django import forms

from inspections.at_bench.units_here import choices_of_tests, remembered_units, units_here


class UnitsForm(forms.Form):
    """One field for each choice; `here` are UnitHere. Only what is sent is changed."""

    def __init__(self, data=None, *, here, **kwargs):
        super().__init__(data, auto_id="%s", **kwargs)
        self.here = here
        for one in here:
            self.fields[one.name] = forms.ChoiceField(
                label=one.choice.name, choices=one.options, initial=one.symbol, required=False
            )

    @property
    def chosen(self):
        """The unit by code of its choice, of the fields that were sent."""
        return {
            one.choice.code: self.cleaned_data[one.name]
            for one in self.here
            if one.name in self.data and one.name in self.cleaned_data
        }


def form_at_start(inspection, person, data=None):
    """The form with which an inspection starts: as the person chose last, else as the site prefers."""
    version = inspection.procedure.current_version()
    codes = [step["test"] for step in version.content["step"]] if version else []
    site = inspection.machine.site.place_format
    return UnitsForm(data, here=units_here(choices_of_tests(codes), remembered_units(person), site))
