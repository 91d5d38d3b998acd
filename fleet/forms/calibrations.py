"""The points of a certificate, and what an instrument's interval and corrections follow."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.calibration.points import BOTH, CONDITIONS, ScalePoints, is_off_scale
from fleet.calibration.typed_points import ERROR, READING, PointRefused, Typing, typed_points
from fleet.catalogue.dimensions import UNITS
from fleet.catalogue.plausibility import COVERAGE_FACTORS
from fleet.forms.fields import NumberField
from fleet.models import Instrument
from fleet.place_format import current

LONGEST_TEXT = 10_000


class PointsForm(forms.Form):
    """The points of one scale, typed or pasted; `cleaned_data["scale_points"]` holds them."""

    scale = forms.TypedChoiceField(coerce=int)
    unit = forms.ChoiceField(help_text="Of every figure below.")
    second = forms.ChoiceField(
        label="Second figure",
        choices=[(READING, "Reading of the instrument"), (ERROR, "Error: reading less reference")],
    )
    condition = forms.ChoiceField(
        label="Condition", choices=list(CONDITIONS.items()), initial=BOTH,
        help_text="A line may say “found” or “left” itself.",
    )  # fmt: skip
    expanded = NumberField(
        label="Expanded uncertainty",
        required=False,
        min_value=0,
        help_text="Of every line that does not state its own.",
    )
    k = NumberField(label="Coverage factor k", initial=2, min_value=COVERAGE_FACTORS[0], max_value=COVERAGE_FACTORS[1])
    text = forms.CharField(
        label="Points", widget=forms.Textarea(attrs={"rows": 12, "class": "code"}), max_length=LONGEST_TEXT,
        help_text="One a line: reference value; reading or error; if need be uncertainty, k, and “found” or “left”. "
        "Type them, or paste columns of a spreadsheet or of a CSV file.",
    )  # fmt: skip

    def __init__(self, *args, scales, **kwargs):
        super().__init__(*args, **kwargs)
        self.scales = {scale.pk: scale for scale in scales}
        self.fields["scale"].choices = [(scale.pk, str(scale)) for scale in scales]
        units = dict.fromkeys(unit for scale in scales for unit in (scale.unit, *UNITS[scale.dimension]))
        self.fields["unit"].choices = [(unit, unit) for unit in units]

    def clean(self):
        data = super().clean()
        if self.errors:
            return data
        scale = self.scales[data["scale"]]
        if data["unit"] not in UNITS[scale.dimension]:
            self.add_error(
                "unit",
                f"{data['unit']} does not measure {scale.dimension}. Choose another unit.",
            )
            return data
        typing = Typing(data["unit"], data["second"], data["expanded"], data["k"], data["condition"], current().decimal)
        try:
            points = typed_points(data["text"], typing)
        except PointRefused as refused:
            self.add_error("text", str(refused))
            return data
        return data | {"scale_points": self._of_scale(scale, points)}

    def _of_scale(self, scale, points):
        found = ScalePoints(scale.pk, self.cleaned_data["unit"], points)
        for number, point in enumerate(found.in_unit(scale.unit).points, 1):
            if is_off_scale(point.reading, scale.low, scale.high):
                raise ValidationError(
                    f"Point {number} reads {point.reading:g} {scale.unit}, outside the scale of {scale.low:g} to "
                    f"{scale.high:g} {scale.unit}. Check the unit, or choose another scale."
                )
        return found


class CalibrationRulesForm(forms.ModelForm):
    class Meta:
        model = Instrument
        fields = ["applies_corrections", "interval_months", "longest_interval_months"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for name in ("interval_months", "longest_interval_months"):
            self.fields[name].min_value = 1
            self.fields[name].widget.attrs |= {"min": 1, "max": 240}

    def clean(self):
        data = super().clean()
        for name in ("interval_months", "longest_interval_months"):
            if data.get(name) is not None and not 1 <= data[name] <= 240:
                self.add_error(name, f"{data[name]} is not accepted. Enter 1 to 240 months, or leave it empty.")
        own, longest = data.get("interval_months"), data.get("longest_interval_months")
        if own and longest and own > longest:
            self.add_error("interval_months", f"{own} is more than the longest, {longest}. Enter {longest} or less.")
        return data

    def _post_clean(self):
        """Leave the instrument as it is: the action changes it, and compares before and after."""
