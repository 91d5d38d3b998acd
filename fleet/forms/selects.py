"""Lists to choose from with many options: made from columns and written with few steps for each option."""

from django import forms
from django_filters import ModelChoiceFilter
from django_filters.fields import ModelChoiceField, ModelChoiceIterator


class LongSelect(forms.Select):
    """A select whose options bear a value, a label and whether they are chosen, and nothing else."""

    def create_option(self, name, value, label, selected, index, subindex=None, attrs=None):
        chosen = self.checked_attribute if selected else {}
        return {"value": value, "label": label, "attrs": chosen, "template_name": self.option_template_name}


class ByColumns(ModelChoiceIterator):
    """Choices of which the named columns are read, not whole rows."""

    def __iter__(self):
        if self.field.empty_label is not None:
            yield "", self.field.empty_label
        for pk, *values in self.queryset.values_list("pk", *self.field.columns):
            yield pk, self.field.words(*values)


class NamedChoiceField(ModelChoiceField):
    """columns  what a choice is named by; words  function of their values: the name, as the row itself is called"""

    iterator = ByColumns
    widget = LongSelect

    def __init__(self, *args, columns, words, **kwargs):
        self.columns, self.words = columns, words
        super().__init__(*args, **kwargs)


class NamedChoiceFilter(ModelChoiceFilter):
    field_class = NamedChoiceField
