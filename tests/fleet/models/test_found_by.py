"""A search finds the machines that a plain look at each of their words finds, from machines, states and inspections."""

import pytest

from fleet.models import CurrentState, Machine
from inspections.models import Inspection
from tests.factories import make_area, make_inspection, make_machine, make_model, make_site

pytestmark = pytest.mark.renewed_at_once

WORDS = ("asset_number", "serial", "model.name", "model.manufacturer", "area.name", "area.site.name")
TEXTS = (
    "alder",
    "A",
    "1",
    "b-2",
    "NORTH",
    "7%",
    "7_",
    "_",
    "'",
    "Kestrel",
    "nothing such",
    "",
    "-1",
    "n",
    "e\u0301",
    "\u00e9",
    "\u0301",
    "%%",
    "\\",
    '"',
)


def word(machine, path):
    for name in path.split("."):
        machine = getattr(machine, name)
    return machine


@pytest.fixture
def machines(db):
    areas = make_area(make_site(name="North"), name="Alder"), make_area(make_site(name="South 7%"), name="Cedar_b")
    models = (
        make_model(name="Kestrel 1", manufacturer="Norrfell"),
        make_model(name='Wre\u0301n "\\', manufacturer="O'Hara"),
    )
    made = [
        make_machine(asset_number=number, serial=serial, model=models[n % 2], area=areas[n // 2])
        for n, (number, serial) in enumerate((("A-1", "77"), ("A-12", "b-2"), ("B-2", "7_7"), ("C%", "")))
    ]
    for machine in made:
        make_inspection(machine)
    return made


@pytest.mark.parametrize("few", [0, 2, 500])
@pytest.mark.parametrize("text", TEXTS)
def test_every_search_finds_the_same_machines(machines, monkeypatch, text, few):
    """Whether the keys of those found are named, or the search is asked again because they are many."""
    monkeypatch.setattr("fleet.models.querysets.machines.FEW", few)
    expected = {one.pk for one in machines if any(text.lower() in word(one, path).lower() for path in WORDS)}
    for rows, key in ((Machine.objects, "pk"), (CurrentState.objects, "pk"), (Inspection.objects, "machine")):
        assert set(rows.found_by(text).values_list(key, flat=True)) == expected
