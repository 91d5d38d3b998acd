"""Makes records for tests; arguments have defaults, so that a test states only what it is about."""

from datetime import UTC, date, datetime, timedelta
from itertools import count

from django.contrib.auth.models import Group

from fleet.actions import add_token, confirm_token, register_machine, send_away
from fleet.circuit.cover_rows import CoverTable
from fleet.circuit.serialise import table_to_dict
from fleet.extensions import tell_covers
from fleet.models import (
    Area,
    Calibration,
    CircuitCover,
    Component,
    CoverHazard,
    Instrument,
    InstrumentScale,
    MachineCover,
    MachineModel,
    ModelFeature,
    Person,
    RegisterUpload,
    Site,
    ValueMeaning,
    WaitingRow,
)
from inspections import bench
from inspections.actions import confirm_limit, load_procedures, open_inspection, plan_inspection
from inspections.actions.signing import result_row
from inspections.at_bench.limits_of_site import limits_of_site
from inspections.bench import to_si
from inspections.models import Completion, Inspection, InspectionStep, Procedure, Result, TrendForecast
from inspections.trends.terms import TERMS
from tests import shipped_procedures

NOON = datetime(2026, 11, 2, 12, 0, tzinfo=UTC)
TODAY = NOON.date()
CALIBRATED_UNTIL = date(2099, 1, 31)  # the suite also works at the present day, whichever that is
PASSWORD = "tapered-tube-7"
_numbers = count(1)


def make_person(*groups, username=None, sites=(), **fields):
    """A person in the named groups, who can log in with PASSWORD."""
    number = next(_numbers)
    fields = {"first_name": "Test", "last_name": f"Person {number}", **fields}
    person = Person.objects.create_user(username or f"person{number}", password=PASSWORD, **fields)
    person.groups.set(Group.objects.filter(name__in=groups))
    person.sites.set(sites)
    return person


def ask_for_token(owner, group="technician", *, name="Stores system", last_day=None):
    """A token that waits for its owner."""
    day, group = last_day or date.today(), Group.objects.get(name=group)
    return add_token(name=name, owner=owner, group=group, expires_on=day, by=None, at=NOON, today=day)


def make_token(owner=None, group="technician", **fields):
    """A token that its owner has confirmed, and its secret."""
    token = ask_for_token(owner or make_person(group), group, **fields)
    return token, confirm_token(token, by=token.owner, at=NOON, today=token.expires_on)


def make_site(**fields):
    number = next(_numbers)
    return Site.objects.create(**{"code": f"site-{number}", "name": f"Site {number}", "altitude_m": 0, **fields})


def make_area(site=None, **fields):
    return Area.objects.create(**{"site": site or make_site(), "name": f"Theatre {next(_numbers)}", **fields})


def make_model(features=None, **fields):
    """A machine model; `features` maps feature codes to states."""
    number = next(_numbers)
    defaults = {
        "code": f"model-{number}",
        "manufacturer": "Test works",
        "name": f"Type {number}",
        "gases": ["oxygen", "nitrous-oxide", "air"],
        "vaporizer_positions": 2,
    }
    model = MachineModel.objects.create(**{**defaults, **fields})
    ModelFeature.objects.bulk_create(
        ModelFeature(model=model, feature=code, state=state) for code, state in (features or {}).items()
    )
    return model


def make_machine(*, features=None, by=None, at=NOON, **fields):
    """A machine in service; `features` are those of its model, made for it unless given."""
    number = next(_numbers)
    fields.setdefault("model", None)
    fields["model"] = fields["model"] or make_model(features=features)
    fields.setdefault("area", None)
    fields["area"] = fields["area"] or make_area()
    defaults = {"asset_number": f"M-{number:04}", "in_use_from": date(2015, 1, 1), "built_year": 2010}
    return register_machine(by=by, at=at, **{**defaults, **fields})


def make_away(machine, *, by=None, at=NOON, **fields):
    """A loan of the machine that lasts."""
    usual = {"kind": "lent", "to_whom": "County hospital, Ida Roth", "from_date": TODAY, "reason": "Theirs is broken"}
    expected = {"expected_on": fields.get("from_date", TODAY) + timedelta(days=14)}
    return send_away(machine, by=by, at=at, **{**usual, **expected, **fields})


def make_circuit_cover(machine, *, open, on=TODAY, at=NOON, **fields):
    """A stored cover table of a circuit; `open` maps hazards to open causes, those not rare, those closable."""
    number = next(_numbers)
    table = table_to_dict(CoverTable(f"Circuit {number}", f"{number:064x}", 0, ()))
    defaults = {
        "digest": f"{number:064x}",
        "title": f"Circuit {number}",
        "components": 40,
        "causes": 100,
        "table": table,
    }
    kept = {"rules": "0" * 64, "software": "1.0", "computed_at": at, "seconds": 1.0}
    cover = CircuitCover.objects.create(**{**defaults, **kept, **fields})
    CoverHazard.objects.bulk_create(
        CoverHazard(
            cover=cover, hazard=code, open=count, likely=likely, closable=sum(closable), told=1, stopped=2,
            worst=f"A cause of {code}" if count else "", worst_likelihood="common" if count else "",
        )
        for code, (count, likely, *closable) in open.items()
    )  # fmt: skip
    made = MachineCover.objects.create(machine=machine, cover=cover, basis="as recorded", on=on, computed_at=at)
    tell_covers([machine.pk])
    return made


def make_value_meaning(site, by, **fields):
    """What the name of an area means in files of machines."""
    said = {"kind": "machines", "column": "area", "written": "th 1", "meaning": "Theatre 1"}
    return ValueMeaning.objects.create(**{**said, **fields}, site=site, by=by, said_at=NOON)


def make_waiting_row(by, name="list"):
    """A row that waits, of a file that is imported."""
    content = b"asset_number,model\nX-1,unheard of\n"
    upload = RegisterUpload.objects.create(
        name=f"{name}.csv", content=content, by=by, uploaded_at=NOON, imported_at=NOON
    )
    problems = [["model", f"{name} model", "is not a machine model of the register.", "the words of one."]]
    return WaitingRow.objects.create(upload=upload, number=2, key="x-1", problems=problems, since=NOON)


def make_component(machine, **fields):
    defaults = {"kind": "pressure-regulator", "label": f"Part {next(_numbers)}", "fitted_on": machine.in_use_from}
    return Component.objects.create(machine=machine, **{**defaults, **fields})


def make_instrument(
    *, scales=None, due_on=CALIBRATED_UNTIL, calibrated_on=date(2026, 1, 31), result="within", **fields
):
    """An instrument with a calibration; `scales` are keywords, by default a 0 to 1,000 kPa gauge and a flowmeter."""
    number = next(_numbers)
    fields.setdefault("site", None)
    fields["site"] = fields["site"] or make_site()
    instrument = Instrument.objects.create(**{"code": f"G-{number:02}", "name": "Test gauge", **fields})
    for scale in scales or DEFAULT_SCALES:
        InstrumentScale.objects.create(instrument=instrument, **scale)
    if due_on:
        Calibration.objects.create(
            instrument=instrument,
            calibrated_on=calibrated_on,
            due_on=due_on,
            result=result,
            certificate=f"C-{number}",
        )
    return instrument


DEFAULT_SCALES = [
    {"dimension": "pressure", "unit": "kPa", "low": 0, "high": 1000, "resolution": 0.5, "of_reading_percent": 0.5},
    {"dimension": "flow", "unit": "L/min", "low": 0, "high": 20, "resolution": 0.01, "of_reading_percent": 2},
    {"dimension": "fraction", "unit": "%", "low": 0, "high": 100, "resolution": 0.1, "absolute": 1},
]


def load_all_procedures(at=NOON):
    """Load the shipped procedures and return the versions that are new, as `load_procedures` does."""
    return shipped_procedures.load(at)


def confirm_first_limit(site, *, by, at):
    """Confirm the first limit of the site, and return the confirmation."""
    one = limits_of_site(site)[0]
    return confirm_limit(site, one.test.code, one.limit, edition="6th ed., p. 2", reason="Committee", by=by, at=at)


def make_procedure(text, *, at=NOON, directory):
    """Write `text` as the only procedure file of `directory` (a tmp_path) and load it."""
    (directory / "procedure.toml").write_text(text, encoding="utf-8")
    return load_procedures(directory, at=at)[0].procedure


def make_inspection(machine=None, procedure=None, *, by=None, at=NOON, due_on=TODAY):
    """A planned inspection; loads the shipped procedures if none is given."""
    if procedure is None:
        load_all_procedures(at)
        procedure = Procedure.objects.get(code="yearly")
    return plan_inspection(machine or make_machine(), procedure, due_on=due_on, by=by, at=at)


def make_open_inspection(machine=None, procedure=None, *, by, at=NOON, **kwargs):
    """An inspection in progress, started by technician `by`."""
    inspection = make_inspection(machine, procedure, by=by, at=at)
    open_inspection(inspection, by=by, at=at, **kwargs)
    return inspection


def bench_result(value=27.0, *, decision="pass", unit="psi", key="trip", label="Trip pressure", lower=25.0):
    """A result as the bench computes it, in the display unit, with an expanded uncertainty of 0.5."""
    limit = bench.Limit(key, "test-rule", "Test rule", to_si(lower, unit), None, unit, "Test source", "2000", "seen")
    return bench.Result(
        key=key,
        label=label,
        value_si=to_si(value, unit),
        std_uncertainty_si=0.25 * bench.si_factor(unit),
        dof=50.0,
        coverage_factor=2.0,
        expanded_uncertainty_si=0.5 * bench.si_factor(unit),
        unit=unit,
        limit=limit if decision else None,
        decision=bench.Decision(decision) if decision else None,
        margin_si=to_si(value, unit) - to_si(lower, unit) if decision else None,
        probability=0.99 if decision == "pass" else 0.01,
        convention="test convention",
    )


def make_signed_inspection(machine=None, procedure=None, *, by, at=NOON, due_on=TODAY, stage="signed", steps=()):
    """A signed inspection written directly into the tables, without readings.

    `steps` are keyword sets of its steps, each with `results` of the bench (one pass by default).
    """
    machine = machine or make_machine()
    if procedure is None:
        load_all_procedures(at)
        procedure = Procedure.objects.get(code="yearly")
    days = timedelta(days=procedure.window_days)
    signature = {"signed_by": by, "signed_at": at, "technician": by, "opened_by": by, "opened_at": at}
    inspection = Inspection.objects.create(
        machine=machine, procedure=procedure, version=procedure.current_version(), stage=stage, due_on=due_on,
        opens_on=due_on - days, closes_on=due_on + days, planned_at=at, **signature,
    )  # fmt: skip
    for position, fields in enumerate(steps or [{}], start=1):
        fields = {"code": f"step-{position}", "test_code": "supply-failure", "title": "Oxygen supply failure", **fields}
        results = fields.pop("results", [bench_result()])
        step = InspectionStep.objects.create(
            inspection=inspection, position=position, content=fields.pop("content", {}), **fields
        )
        Result.objects.bulk_create(result_row(step, result) for result in results)
    Completion.of(inspection).save(force_insert=True)
    return inspection


def make_forecast(latest, *, subject="", at=NOON):
    """A stored trend of a result that ends outside its limit."""
    numbers = ("value", "lower", "upper", "slope", "slope_lower", "slope_upper")
    shares = {"drift_share": 0.5, "machine_share": 0.2, "measured_share": 0.3}
    return TrendForecast.objects.create(
        machine=latest.step.inspection.machine, test_code=latest.step.test_code, subject=subject, key=latest.key,
        latest=latest, results=3, due_on=TODAY, beyond_on=TODAY, chance=0.4, advice="come earlier",
        terms=dict.fromkeys(TERMS, 1.0), made_at=at, **dict.fromkeys(numbers, 1.0), **shares,
    )  # fmt: skip
