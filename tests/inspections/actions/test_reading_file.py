"""The readings of a file are stored together, and where its columns go is remembered with them."""

import pytest

from inspections.actions import enter_readings_of_file
from inspections.at_bench.reading_entry import entry_at
from inspections.at_bench.reading_file import ColumnUse, Mapping
from inspections.errors import FileOvertaken, ReadingRefused, RecordFrozen
from inspections.models import Reading, ReadingFileMapping
from tests.factories import NOON
from tests.inspections.scenes import enter

MAPPING = Mapping({"P": ColumnUse("falling.*.pressure", "psi"), "No": ColumnUse()}, ",")


def entries(scene, *texts):
    said = {"column": "pressure", "unit": "psi", "seen": None}
    return [entry_at(scene.step(), "falling", row=row, as_read=text, **said) for row, text in enumerate(texts)]


def store(scene, found, *, mapping=MAPPING, by=None):
    told = {"mapping": mapping, "instrument": "Logger", "by": by or scene.technician, "at": NOON}
    return enter_readings_of_file(scene.step(), found, **told)


def stored():
    return [str(reading) for reading in Reading.objects.current()]


def test_all_are_stored_and_the_columns_are_remembered_as_last_chosen(scene):
    assert store(scene, entries(scene, "45", "35")) == 2
    assert stored() == ["45 psi", "35 psi"]
    store(scene, [], mapping=Mapping({"No": ColumnUse(), "P": ColumnUse("rising.*.pressure", "kPa")}), by=scene.other)
    remembered = ReadingFileMapping.objects.get()
    assert remembered.columns == {"No": {"to": "", "unit": ""}, "P": {"to": "rising.*.pressure", "unit": "kPa"}}
    assert (remembered.by, remembered.decimal) == (scene.other, ".")


def test_one_that_is_overtaken_or_cannot_be_leaves_nothing_of_the_others(scene):
    enter(scene.step(), "falling", row=1, column="pressure", as_read="36", unit="psi", by=scene.other, at=NOON)
    with pytest.raises(FileOvertaken, match="Rui Serra has entered 36 psi meanwhile. Nothing of the file was stored"):
        store(scene, entries(scene, "45", "35"))
    with pytest.raises(ReadingRefused, match="not plausible"):
        store(scene, entries(scene, "45", "36", "9999999"))
    assert stored() == ["36 psi"] and Reading.objects.count() == 1
    assert not ReadingFileMapping.objects.exists()


def test_a_signed_inspection_takes_none(scene):
    found = entries(scene, "45")
    scene.complete()
    scene.sign()
    with pytest.raises(RecordFrozen):
        store(scene, found)
    assert not ReadingFileMapping.objects.exists()
