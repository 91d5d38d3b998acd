"""Every value of a scale is checked, entered, imported, tracked and sent: the numbers are named once."""

from fleet.api.instruments import ScaleOut
from fleet.catalogue.plausibility import SCALE_NUMBERS
from fleet.changes.entries import tracked_models
from fleet.forms.instruments import ScaleForm
from fleet.models import InstrumentScale
from fleet.register_file import INSTRUMENTS

VALUES = {field.name for field in InstrumentScale._meta.concrete_fields} - {"id", "instrument"}


def test_the_numbers_of_a_scale_are_its_fields_but_dimension_and_unit():
    assert {"dimension", "unit", *SCALE_NUMBERS} == VALUES


def test_what_a_scale_holds_is_entered_imported_tracked_and_sent():
    assert set(ScaleForm._meta.fields) == set(ScaleOut.model_fields) - {"id"} == VALUES
    assert set(INSTRUMENTS.columns) >= {"measures", "unit", *SCALE_NUMBERS}
    assert set(tracked_models()[InstrumentScale].fields) == VALUES
