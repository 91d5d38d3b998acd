"""What the bench page sends of a repair: a component that was replaced, and what was done before a test as left."""

from django import forms

LONGEST = 300
AS_RECORDED = "Only if it differs from the record, or the record does not have it."


class ReplacedForm(forms.Form):
    """The new component, and the removed one as far as the register does not have it."""

    serial = forms.CharField(label="Serial of the new one", max_length=60, required=False)
    lot = forms.CharField(label="Lot of the new one", max_length=60, required=False)
    part_number = forms.CharField(
        label="Part number of the new one", max_length=60, required=False,
        help_text="Leave empty if it is the same as that of the removed one.",
    )  # fmt: skip
    removed_serial = forms.CharField(
        label="Serial of the removed one", max_length=60, required=False, help_text=AS_RECORDED
    )
    removed_lot = forms.CharField(label="Lot of the removed one", max_length=60, required=False)
    removed_part_number = forms.CharField(label="Part number of the removed one", max_length=60, required=False)
    note = forms.CharField(label="Note", max_length=LONGEST, required=False)

    def details(self):
        """Return the arguments of `change_replacement`."""
        data = self.cleaned_data
        removed = {name: data[f"removed_{name}"] for name in ("serial", "lot", "part_number")}
        fitted = {name: data[name] for name in ("serial", "lot", "part_number")}
        return {**fitted, "removed": removed, "note": data["note"]}


class ReplacementForm(ReplacedForm):
    """A component to be entered as replaced; `components` are those in place, that the step tests first."""

    component = forms.ChoiceField(
        label="Component",
        error_messages={"required": "Choose the component that was replaced.",
                        "invalid_choice": "“%(value)s” is not in place on this machine. Choose one of the list."},
    )  # fmt: skip

    field_order = ["component"]

    def __init__(self, *args, components, **kwargs):
        super().__init__(*args, **kwargs)
        here = [(one.code, one.words) for one in components if one.is_tested_here]
        others = [(one.code, one.words) for one in components if not one.is_tested_here]
        groups = [("Tested by this step", here), ("Others", others)] if here else [("Components", others)]
        self.fields["component"].choices = [("", "Choose the component"), *(pair for pair in groups if pair[1])]


class AsLeftForm(forms.Form):
    """What was repaired or adjusted before the step is tested again."""

    work_done = forms.CharField(
        label="What was repaired or adjusted",
        max_length=LONGEST,
        error_messages={"required": "State in a sentence what was repaired or adjusted. It goes on the record."},
    )
