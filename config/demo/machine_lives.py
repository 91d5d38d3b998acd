"""What else happens to the invented machines: a loan, a move, an alteration, files, software, users, a dossier."""

from datetime import timedelta

from django.core.files.base import ContentFile

from fleet.actions import (
    carry_out_alteration,
    instruct_users,
    leave_out_of_alteration,
    move_machine,
    plan_alteration,
    record_software,
    send_away,
    take_back,
)
from fleet.circuit.alterations import CannotBeAltered, altered
from fleet.circuits.machine_circuit import circuit_of
from fleet.models import AlterationPlan, Area, Machine
from inspections.actions import attach_file, draft_dossier
from inspections.attachments.accepting import accept_file
from inspections.models import Procedure
from inspections.schedule.interval_data import Asked, first_day_of_data

ALTERATION = "fit-outlet-check-valve"
ALTERED, LOOKED_AT = 4, 24  # machines of the alteration, and those among which they are chosen
LARGEST = 100_000  # octets of an attached file
SHEET = (
    "Invented work sheet 812\nOutlet check valve fitted behind the vaporizer bank. Leak test done.\n"
    "This file belongs to the demonstration; nothing in it is real.\n"
)


def tell_lives(write, people, *, today, at):
    """Let the machines live through it by the program's own actions, and print what a visitor finds."""
    machines = list(Machine.objects.in_service().with_place().order_by("asset_number"))
    lent, back, moved, equipped = machines[2], machines[3], machines[4], machines[5]
    by = people["planner"]
    _lend(lent, back, today, by=by, at=at)
    area = Area.objects.filter(site=moved.site).exclude(pk=moved.area_id).order_by("pk").first()
    if area:
        on = today - timedelta(days=20)
        move_machine(moved, area=area, on=on, evidence="Seen there; order 118 of the theatres", by=by, at=at)
    done = _alter(machines[6 : 6 + LOOKED_AT], people, today, at=at)
    _equip(equipped, people, today, at=at)
    draft = _draft_dossier(by, today, at=at)
    write(f"Lives        {lent} is lent, {back} came back, {moved} has moved; {done or 'no machine'} is altered; "
          f"software and users of {equipped}; {draft} waits for approval")  # fmt: skip


def _lend(lent, back, today, *, by, at):
    day = timedelta(days=1)
    send_away(
        lent, kind="lent", to_whom="Day clinic at the mill, Ida Roth", from_date=today - 4 * day,
        expected_on=today + 10 * day, reason="Theirs is being repaired", note="With two hoses", by=by, at=at,
    )  # fmt: skip
    away = send_away(
        back, kind="outside repair", to_whom="Workshop of the manufacturer", from_date=today - 40 * day,
        expected_on=today - 20 * day, reason="Display board", by=by, at=at,
    )  # fmt: skip
    take_back(away, returned_on=today - 18 * day, return_note="Complete; report 5521", by=by, at=at)


def _alter(machines, people, today, *, at):
    """Plan an alteration, carry it out on one machine and leave one out. Return the one that was altered, or None."""
    fit = [one for one in machines if _can_be_altered(one, today)][:ALTERED]
    if len(fit) < ALTERED:
        return None
    plan = plan_alteration(
        machines=fit, kind=ALTERATION, title="Outlet check valves", reason="Equipment committee, item 7",
        from_date=today - timedelta(days=10), minutes_each=60, by=people["planner"], at=at,
    )  # fmt: skip
    technician = people["technician"]
    sheet = "Work sheet 812; valve seen in place"
    row = plan.machines.get(machine=fit[0])
    carry_out_alteration(
        row, done_on=today - timedelta(days=2), evidence=sheet, minutes=75, by=technician, at=at
    )  # fmt: skip
    left = plan.machines.get(machine=fit[-1])
    leave_out_of_alteration(left, reason="Replaced next year by the board's decision", by=people["planner"], at=at)
    _attach(SHEET, "work-sheet-812.txt", "Work sheet of the alteration", by=technician, at=at, machine=fit[0])
    return fit[0]


def _can_be_altered(machine, today):
    circuit = circuit_of(machine, today).circuit
    if circuit is None:
        return False
    try:
        altered(circuit, AlterationPlan(kind=ALTERATION).entry, "")
    except CannotBeAltered:
        return False
    return True


def _equip(machine, people, today, *, at):
    """Software of two parts, and users instructed on the machine and on its model in the area."""
    by = people["technician"]
    for part, version, days in (("ventilator", "3.8", 400), ("ventilator", "4.1", 90), ("gas monitor", "2.0", 90)):
        day = today - timedelta(days=days)
        record_software(machine, part=part, version=version, installed_on=day, source="Service report", by=by, at=at)
    said = {"instructor": "Ida Roth, invented works", "topics": "Check before use, alarms, loss of oxygen"}
    held = today - timedelta(days=80)
    instruct_users(machine, ["Mara Lind", "Ola Berg"], held_on=held, by=by, at=at, **said)
    until = today + timedelta(days=280)
    instruct_users(
        machine, ["Tove Dahl", "Per Holm"], held_on=held, valid_until=until, whole_area=True, by=by, at=at, **said
    )
    words = "Invented list of the users instructed: Mara Lind, Ola Berg.\n"
    _attach(words, "instructed.txt", "Signed list of the instruction", by=by, at=at, machine=machine)


def _attach(words, name, title, *, by, at, **subject):
    accepted = accept_file(ContentFile(words.encode(), name=name), largest=LARGEST)
    attach_file(accepted, title=title, by=by, at=at, **subject)


def _draft_dossier(by, today, *, at):
    """A shorter interval for every model: what was found in two years asks for it."""
    yearly = Procedure.objects.get(code="yearly")
    asked = Asked(yearly, None, 10, yearly.window_days, first_day_of_data(today), today)
    return draft_dossier(asked, most_share=0.02, reason="Hidden failures were found within the year", by=by, at=at)
