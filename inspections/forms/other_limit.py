"""Asking what another limit would have made of the signed results."""

from django import forms

from inspections.at_bench.limit_figures import tried_limit
from inspections.errors import Refused
from inspections.forms.limits import ChosenLimitForm


class OtherLimitForm(ChosenLimitForm):
    """A limit that is only tried. `cleaned_data` holds the code of its test and the Limit."""

    def clean(self):
        data = super().clean()
        if self.errors:
            return data
        test_code, _, result_key = data["result"].partition("/")
        figures = {name: data[name] for name in ("lower", "upper", "unit")}
        try:
            limit = tried_limit(test_code, result_key, data["rule"].rpartition("/")[2], figures)
        except Refused as error:
            raise forms.ValidationError(str(error)) from None
        return data | {"test_code": test_code, "limit": limit}
