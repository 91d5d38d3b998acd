"""The main job with its output: due list, a failing trip pressure, withdrawal, retest, release, reports."""

from datetime import UTC, datetime, time, timedelta

from django.utils import timezone

from fleet.actions import withdraw_machine
from fleet.catalogue import get_hazard
from fleet.circuits.covers.storing import keep_machine_covers, look_at_circuit
from fleet.circuits.measured_circuit import circuits_as_measured
from fleet.models import Component, FeatureState, Machine, State
from inspections.actions import book_inspection, plan_due_inspections, plan_inspection
from inspections.bench import from_si
from inspections.machine_trends.forecasting import make_forecasts, measured_tests
from inspections.models import Finding, Inspection, Procedure, Result, TrendForecast

FAILING = "OH-014"
NEW_VALVE = "CV-70231"
LOOKED_AT = ("CH-013", "PB-005")  # a machine with a proportional cut-off, and one whose exclusion bar was removed


def tell_due_work(write, today):
    """Plan what falls due and print what the planner sees."""
    planned = plan_due_inspections(today=today, at=timezone.now())
    due = Inspection.objects.due_by(today + timedelta(days=30)).count()
    overdue = Inspection.objects.overdue(today).count()
    write(f"Due list     {due} inspections due within 30 days, {overdue} of them overdue; {planned} newly planned")


def book_coming_work(write, history, today):
    """Book the coming fortnight on the technicians, and leave one inspection in progress."""
    planned = Inspection.objects.due_by(today + timedelta(days=14)).filter(stage="planned")
    due = list(planned.with_place().order_by("due_on")[:9])
    at = timezone.now() - timedelta(hours=3)
    for number, inspection in enumerate(due):
        day = _weekday_after(today + timedelta(days=number // 3))
        technician = history.technicians[number % 3]
        book_inspection(inspection, technician=technician, booked_on=day, by=history.people["planner"], at=at)
    first = Inspection.objects.filter(stage="booked", technician=history.people["technician"]).with_place().first()
    if first:
        history.leave_open(first, _weekday_before(today), steps=2)
    write(f"Booked       {len(due)} inspections; {first} of {first.machine} is in progress")


def tell_failing_machine(write, history, today):
    """Measure a machine whose cut-off valve has a weak spring; withdraw, repair, retest and release it. Return both."""
    machine = Machine.objects.with_place().get(asset_number=FAILING)
    day = _weekday_before(today)
    history.truths[machine.pk].repair(day)
    history.truths[machine.pk].faults["weak spring"] = day
    failed = history.inspect(_due_inspection(machine, day, history), day, hour=7)
    _write_results(write, "Inspection", failed)
    for finding in Finding.objects.open().essential().filter(machine=machine):
        write(f"Finding      {finding}")
    machine.refresh_from_db()
    finding = Finding.objects.open().essential().filter(machine=machine).first()
    at = failed.signed_at + timedelta(minutes=10)
    withdraw_machine(machine, by=failed.signed_by, at=at, reason=finding.title, evidence=str(failed))
    write(f"Withdrawn    {machine} by {failed.signed_by}: {finding.title}")
    retest = history.retest(machine, day)
    _write_results(write, "Retest", retest)
    write(f"Released     {machine} on the evidence of {retest}, countersigned by {retest.countersigned_by}")
    return failed, retest


def tell_incomplete_inspection(write, history, today):
    """Test a machine with an outlet check valve by positive pressure, which proves nothing of its leak. Return it."""
    day = _weekday_before(today)
    with_valve = Machine.objects.in_service().with_feature("outlet-check-valve", State.FITTED, day)
    planned = (
        Inspection.objects.open().filter(stage="planned", machine__in=with_valve).exclude(machine__asset_number=FAILING)
    )
    in_turn = planned.with_place().order_by("due_on", "pk")
    inspection = next(one for one in in_turn if not history.truths[one.machine_id].has_any_fault(day))
    history.inspect(inspection, day, hour=8, habit="positive pressure")
    write(f"Incomplete   {inspection} of {inspection.machine}, signed by {inspection.signed_by}")
    for finding in Finding.objects.open().of_untested().filter(machine=inspection.machine):
        write(f"Finding      {finding}: {finding.description.splitlines()[0]}")
    return inspection


def tell_repair_at_the_bench(write, history, today):
    """Replace the cut-off valve of a machine during its inspection, which failed as found. Return the inspection."""
    day = _weekday_before(today)
    planned = Inspection.objects.open().filter(stage="planned", machine__status="in service", procedure__code="yearly")
    with_valve = planned.filter(machine__components__in=_valves()).exclude(machine__asset_number=FAILING)
    in_turn = with_valve.with_place().order_by("due_on", "pk")
    inspection = next(one for one in in_turn if not history.truths[one.machine_id].has_any_fault(day))
    valve = _valves().filter(machine=inspection.machine).first()
    history.truths[inspection.machine_id].faults["weak spring"] = day
    history.repair_at_bench(inspection, valve, day, serial=NEW_VALVE, lot="L-2609", note="Spring set; valve renewed")
    write(f"Repaired     {inspection.machine} during {inspection}: {valve} replaced by serial {NEW_VALVE}")
    for finding in Finding.objects.filter(machine=inspection.machine, result__step__inspection=inspection):
        write(f"Finding      {finding}: {'passes' if finding.passes_as_left else 'does not pass'} as left")
    return inspection


def _valves():
    """The cut-off valves of nitrous oxide that are in place."""
    return Component.objects.filter(kind="supply-failure-valve", gas="nitrous-oxide", removed_on=None)


def tell_fleet(write):
    counts = ", ".join(
        f"{Machine.objects.filter(status=status).count()} {status}" for status in ("in service", "withdrawn")
    )
    write(f"Fleet        {counts}; {Finding.objects.open().count()} findings open")


def tell_circuits(write):
    """Compute what the gas circuits of two machines make possible; the daily job does it for all."""
    today, at = timezone.localdate(), timezone.now()
    machines = list(Machine.objects.with_place().filter(asset_number__in=LOOKED_AT).order_by("asset_number"))
    circuits = circuits_as_measured(machines, today)
    states = FeatureState.objects.by_machine(machines, today)
    looked = [look_at_circuit(machine, circuits[machine.pk], states[machine.pk], at=at) for machine in machines]
    keep_machine_covers(looked, by=None, at=at)
    for one in looked:
        hazards = one.cover.hazards.exclude(open=0)
        found = ", ".join(f"{get_hazard(row.hazard).name.lower()} {row.open}" for row in hazards)
        write(
            f"Circuit      {one.machine}: {one.cover.components} components, {one.cover.causes} causes; open: {found}"
        )
        for finding in Finding.objects.open().filter(machine=one.machine).exclude(contradiction=""):
            write(f"Finding      {finding}")
    write("             The other circuits are computed in the background while Bobbin is served.")


def tell_trends(write):
    """Compute the trends of what the fleet measured, as every night, and print the likeliest to end outside."""
    at = timezone.now()
    made = sum(make_forecasts(test_code, at=at) for test_code in measured_tests())
    watched = TrendForecast.objects.to_watch()
    write(f"Trends       {made} results foretold, {watched.count()} of them to watch")
    for one in watched.likeliest_first().with_place()[:1]:
        write(f"             {one}: outside its limit on {one.due_on} with a chance of {one.chance:.0%}")


def _due_inspection(machine, day, history):
    yearly = Procedure.objects.get(code="yearly")
    due = Inspection.objects.open().filter(machine=machine, procedure=yearly).with_place().first()
    at = datetime.combine(day, time(6), tzinfo=UTC)
    return due or plan_inspection(machine, yearly, due_on=day, by=history.people["planner"], at=at)


def _write_results(write, word, inspection):
    results = Result.objects.filter(step__inspection=inspection)
    decided = results.exclude(decision="")
    write(
        f"{word:<12} {inspection} of {inspection.machine}: {decided.count()} results judged, "
        f"{results.failed().count()} failed, signed by {inspection.signed_by}"
    )
    for result in results.filter(key="trip_pressure").select_related("step"):
        value, spread = (from_si(x, result.unit) for x in (result.value, result.expanded_uncertainty))
        write(
            f"             {result.step}: trip pressure {value:.1f} ± {spread:.1f} {result.unit}, "
            f"{result.decision_words} by rule {result.limit_rule} "
            f"(probability of conformity {result.probability:.3f})"
        )


def _weekday_after(day):
    while day.weekday() > 4:
        day += timedelta(days=1)
    return day


def _weekday_before(today):
    day = today - timedelta(days=1)
    while day.weekday() > 4:
        day -= timedelta(days=1)
    return day
