"""The migration gives codes to components that were recorded without."""

from datetime import date
from importlib import import_module

from django.apps import apps

from fleet.models import Component
from tests.factories import make_component, make_machine

fill_codes = import_module("fleet.migrations.0014_component_codes").fill_codes


def codes_of(machine):
    return list(Component.objects.filter(machine=machine).order_by("pk").values_list("code", flat=True))


def test_a_code_is_made_from_the_label_and_is_unique_on_its_machine(db):
    machine, other = make_machine(), make_machine()
    for label in ("N2O regulator", "N2O-regulator", "Vaporizer 1", "…"):
        make_component(machine, label=label)
    make_component(other, label="N2O regulator")
    fill_codes(apps, None)
    assert codes_of(machine) == ["n2o-regulator", "n2o-regulator-2", "vaporizer-1", "part"]
    assert codes_of(other) == ["n2o-regulator"]


def test_the_successor_of_a_removed_component_has_its_code(db):
    machine = make_machine()
    make_component(machine, label="Flush valve", removed_on=date(2020, 1, 1))
    make_component(machine, label="Flush valve", fitted_on=date(2020, 1, 1))
    fill_codes(apps, None)
    assert codes_of(machine) == ["flush-valve", "flush-valve"]


def test_a_code_that_is_there_is_kept(db):
    machine = make_machine()
    make_component(machine, label="Flush valve", code="flush")
    fill_codes(apps, None)
    assert codes_of(machine) == ["flush"]
