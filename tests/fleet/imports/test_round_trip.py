"""An export that is imported again changes nothing: a property of everything that the register can hold."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from fleet.catalogue import FEATURES
from fleet.export.defusing import defused, undefused
from fleet.imports import IMPORTERS, Scope, parse_upload, plan_import
from fleet.imports.jobs import WRITERS
from fleet.imports.uploads import import_register
from fleet.models import (
    Calibration,
    Component,
    EarlierInspection,
    FeatureState,
    Instrument,
    InstrumentScale,
    Machine,
    Site,
)
from fleet.register_file import EARLIER, Settings
from fleet.register_file.spellings import STATES
from tests.factories import NOON, TODAY, make_area, make_machine, make_model

# Any printable text, also with risky starts; U+FFFD and characters that reorder text are refused.
REORDERING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
PRINTED = st.characters(blacklist_categories=("Cs", "Cc", "Cn"), blacklist_characters=f"\ufffd{REORDERING}")
RISKY = st.sampled_from(
    ["=1+1", "'=1", "''-2", "@a", "+44", "-", "1E+10", "1.5e10", "0012", "TRUE", "1985-03-01", "3-12", "#N/A", "#ref!"]
)
TEXT = st.one_of(st.text(PRINTED, max_size=30).map(str.strip), RISKY)
NAME = TEXT.filter(bool)
DAY = st.dates(date(1990, 1, 1), TODAY - timedelta(days=400))
NUMBER = st.floats(-100, 1e4, allow_nan=False).filter(lambda number: number == 0 or abs(number) > 1e-9)
PROPERTY = settings(
    max_examples=8,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # shrinking writes and reads a file for each step: minutes
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@given(text=st.one_of(st.text(max_size=12), RISKY, st.text("'=+-@1E\t\r", max_size=6)))
def test_defusing_is_undone_for_every_text(text):
    assert undefused(defused(text)) == text


@given(text=st.text("'=+-@\t\ra", min_size=1, max_size=4))
def test_no_defused_cell_begins_as_a_formula_does(text):  # Source: OWASP, CSV injection: = + - @ tab, carriage return
    assert defused(text)[0] not in "=+-@\t\r"


@pytest.fixture
def place(db):
    make_model(code="three", features={"ratio-protection": "not fitted"})
    return make_area()


def unchanged(kind, fmt):
    """Export all records of a kind, import them again, and return how many are unchanged."""
    importer, scope = IMPORTERS[kind], Scope.of(None, TODAY)
    data = WRITERS[fmt](importer.rows(scope), importer.kind)
    parsed = parse_upload(data, importer.kind, Settings(counts_as=""))
    assert (parsed.questions, parsed.problems) == ((), ())
    plan = plan_import(parsed, scope)
    assert (plan.problems, plan.created, plan.updated) == ([], [], [])
    return plan.unchanged


@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
@PROPERTY
@given(
    asset=NAME, serial=TEXT, note=st.one_of(TEXT, st.just("one\r\ntwo"), st.just("=a\nb")), day=DAY,
    states=st.dictionaries(st.sampled_from(sorted(FEATURES)), st.sampled_from(STATES), max_size=4),
)  # fmt: skip
def test_machines(place, fmt, asset, serial, note, day, states):
    Machine.objects.all().delete()
    machine = make_machine(
        asset_number=asset, serial=serial, note=note, in_use_from=day, built_year=day.year, area=place
    )
    FeatureState.objects.bulk_create(
        FeatureState(machine=machine, feature=code, state=state, from_date=day, evidence="seen", recorded_at=NOON)
        for code, state in states.items()
    )
    assert unchanged("machines", fmt) == 1


@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
@PROPERTY
@given(code=NAME, name=NAME, certificate=NAME, laboratory=TEXT, low=NUMBER, step=st.floats(1e-6, 1), day=DAY)
def test_instruments_with_calibrations_and_scales(place, fmt, code, name, certificate, laboratory, low, step, day):
    Instrument.objects.all().delete()
    one = Instrument.objects.create(code=code[:30], name=name, site=Site.objects.first())
    Calibration.objects.create(
        instrument=one, calibrated_on=day, due_on=day + timedelta(days=365), certificate=certificate,
        laboratory=laboratory, result="adjusted",
    )  # fmt: skip
    for high in (low + 1, low + 2):
        InstrumentScale.objects.create(
            instrument=one,
            dimension="pressure",
            unit="kPa",
            low=low,
            high=high,
            resolution=step,
            of_reading_percent=0.5,
        )
    assert unchanged("instruments", fmt) == 2


@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
@PROPERTY
@given(label=NAME, serial=TEXT, lot=TEXT, value=NUMBER.map(abs))
def test_components_fitted_and_removed(place, fmt, label, serial, lot, value):
    Machine.objects.all().delete()
    machine = make_machine(area=place)
    common = {"machine": machine, "kind": "pressure-regulator", "gas": "oxygen", "label": label}
    rated = {"output_pressure": [value, "kPa"]}
    Component.objects.create(fitted_on=date(2016, 1, 1), removed_on=date(2020, 1, 1), serial=lot, **common)
    Component.objects.create(fitted_on=date(2020, 1, 1), serial=serial, lot=lot, rated=rated, **common)
    assert unchanged("components", fmt) == 2


@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
@PROPERTY
@given(procedure=NAME, result=TEXT, done_by=TEXT, reference=TEXT, day=DAY)
def test_earlier_inspections(place, fmt, procedure, result, done_by, reference, day):
    Machine.objects.all().delete()
    EarlierInspection.objects.create(
        machine=make_machine(area=place), done_on=day, procedure=procedure, result=result, done_by=done_by,
        reference=reference, source="old.csv", recorded_at=NOON,
    )  # fmt: skip
    assert unchanged("earlier-inspections", fmt) == 1


def test_a_part_is_replaced_by_a_file_that_says_when(place):
    machine = make_machine(asset_number="M-1", area=place)
    old = Component.objects.create(
        machine=machine, kind="apl-valve", label="APL", fitted_on=date(2016, 1, 1), serial="1"
    )
    header = "asset_number,label,kind,serial,fitted_on,removed_on\n"
    kind = IMPORTERS["components"].kind
    new = "M-1,APL,apl-valve,2,2024-05-01,\n"
    problem = plan_import(parse_upload((header + new).encode(), kind), Scope.of(None, TODAY)).problems[0]
    assert (problem.column, "2016-01-01" in problem.message) == ("label", True)
    plan = plan_import(
        parse_upload(f"{header}{new}M-1,APL,,,2016-01-01,2024-05-01\n".encode(), kind), Scope.of(None, TODAY)
    )
    import_register(plan, by=None, at=NOON, source="parts.csv")
    old.refresh_from_db()
    assert old.removed_on == date(2024, 5, 1)
    assert Component.objects.get(removed_on=None).serial == "2"


def test_what_was_recorded_elsewhere_is_known_by_its_day_and_never_entered_twice(place):
    make_machine(asset_number="M-1", area=place)
    text = "asset_number,done_on,procedure,result\nM-1,2025-11-03,Service,{}\n"
    for result, counts in (("Pass", (1, 0)), ("Fail", (0, 1)), ("Fail", (0, 0))):
        plan = plan_import(parse_upload(text.format(result).encode(), EARLIER), Scope.of(None, TODAY))
        assert (len(plan.created), len(plan.updated)) == counts
        import_register(plan, by=None, at=NOON, source="old.csv")
    assert EarlierInspection.objects.get().result == "Fail"
