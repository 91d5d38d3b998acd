"""Create the invented hospitals, people, models and instruments of scenario.toml in an empty database."""

import tomllib
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

from dateutil.relativedelta import relativedelta
from django.contrib.auth.models import Group

from config.demo.machine_circuits import circuit_text
from config.demo.prices import enter_prices
from fleet.acting.scope import acting
from fleet.actions import record_calibration
from fleet.models import Area, Instrument, InstrumentScale, MachineModel, ModelFeature, Person, Site, State
from inspections.actions import confirm_limit
from inspections.at_bench.limits_of_site import limits_of_site

HERE = Path(__file__).parent
REGISTER = HERE / "register.csv"
HISTORY = relativedelta(years=2)
CONFIRMED = "Looked up by the planner for the equipment committee."


def read_scenario():
    return tomllib.loads((HERE / "scenario.toml").read_text(encoding="utf-8"))


def create_scenario(scenario, today):
    """Create places, people, models and instruments; machines are created by the register import."""
    with acting("demonstration"):
        return _create_all(scenario, today)


def _create_all(scenario, today):
    sites = {entry["code"]: _create_site(entry) for entry in scenario["site"]}
    people = {entry["username"]: _create_person(entry, scenario["password"]) for entry in scenario["person"]}
    at = datetime.combine(today - HISTORY, time(6), UTC)
    for entry in scenario["site"]:
        _confirm_limits(sites[entry["code"]], entry["confirmed"], by=people["planner"], at=at)
    for entry in scenario["model"]:
        _create_model(entry)
    for entry in scenario["instrument"]:
        _create_instrument(entry, sites, today)
    enter_prices(by=people["manager"], at=at)
    return people


def _create_site(entry):
    fields = ("code", "name", "altitude_m", "time_zone", "rule_set", "fault_phone")
    site = Site.objects.create(has_label_page=True, **{key: entry[key] for key in fields})
    Area.objects.bulk_create(Area(site=site, name=name, minimum_machines=least) for name, least in entry["areas"])
    return site


def _confirm_limits(site, tests, *, by, at):
    """Confirm the limits of these tests for a site: the department has looked them up."""
    for one in limits_of_site(site):
        if one.test.code in tests:
            edition = f"{one.limit.source}, copy in the workshop"[:120]
            confirm_limit(site, one.test.code, one.limit, edition=edition, reason=CONFIRMED, by=by, at=at)


def _create_person(entry, password):
    names = {key: entry[key] for key in ("first_name", "last_name")}
    person = Person.objects.create_user(entry["username"], password=password, **names)
    person.groups.add(Group.objects.get(name=entry["group"]))
    return person


def _create_model(entry):
    lists = {"fitted": State.FITTED, "unwanted": State.FITTED, "missing": State.NOT_FITTED, "unknown": State.NOT_KNOWN}
    fields = {key: value for key, value in entry.items() if key not in {*lists, "supply_failure"}}
    model = MachineModel.objects.create(**fields, circuit=circuit_text(entry["code"]))
    ModelFeature.objects.bulk_create(
        ModelFeature(model=model, feature=code, state=state) for name, state in lists.items() for code in entry[name]
    )


def _create_instrument(entry, sites, today):
    instrument = Instrument.objects.create(code=entry["code"], name=entry["name"], site=sites[entry["site"]])
    names = ("dimension", "unit", "low", "high", "resolution", "of_reading_percent", "of_span_percent", "absolute")
    for scale in entry["scales"]:
        InstrumentScale.objects.create(instrument=instrument, **dict(zip(names, scale, strict=True)))
    _calibrate_yearly(instrument, entry, today)


def _calibrate_yearly(instrument, entry, today):
    """Record a calibration for each year; the last one is valid today unless the scenario says that it ran out."""
    days_left = -entry["ran_out_days_ago"] if "ran_out_days_ago" in entry else 20 + 13 * (instrument.pk % 11)
    runs_out = today + timedelta(days=days_left)
    for years in (3, 2, 1):
        done_on = runs_out - relativedelta(years=years)
        record_calibration(
            instrument,
            calibrated_on=done_on,
            due_on=done_on + relativedelta(years=1),
            certificate=f"{entry['certificate']}-{done_on:%y%m}-{instrument.code}",
            result=entry.get("result", "within") if years == 1 else "within",
            laboratory="Sound Metrology Bench",
            by=None,
            at=datetime.combine(done_on, time(12), UTC),
        )
