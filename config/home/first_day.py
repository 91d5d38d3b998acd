"""The guided start: the steps of a department's first day, each known from the records."""

from dataclasses import dataclass, replace

from django.urls import reverse

from fleet.models import Area, Machine, MachineModel, Person, Site, StartPutAway, WaitingRow
from inspections.at_bench.limits_looked_at import looked_at_of_sites
from inspections.models import Inspection, LimitConfirmation, Procedure
from inspections.schedule.levelling import first_inspections

GUIDED = {"planner", "planner-in-chief"}  # groups whose Home shows the steps


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what is done, in words with its count, and the next thing to do.

    url      empty where this person may not do it; `note` says who may then
    is_post  whether it is done by one press, without a page of its own
    """

    title: str
    is_done: bool
    words: str
    label: str = ""
    url: str = ""
    note: str = ""
    is_post: bool = False
    is_next: bool = False


def shown_steps(person, groups, today):
    """Return the steps for Home: none for other groups, once they are put away, or once all are done."""
    if not GUIDED & groups or StartPutAway.objects.filter(person=person).exists() or is_running(person):
        return []
    steps = first_steps(person, today)
    return [] if all(step.is_done for step in steps) else steps


def is_running(person):
    """Return whether the department's first day is long past: a record is signed, and a limit is confirmed."""
    signed = Inspection.objects.visible_to(person).signed()
    return signed.exists() and LimitConfirmation.objects.visible_to(person).in_force().exists()


def first_steps(person, today):
    """Return every step in the order of the day. Each needs a fixed number of queries."""
    in_order = (_people, _places, _models, _procedures, _limits, _register, _levelled, _opened)
    steps = [make(person, today) for make in in_order]
    first = next((place for place, step in enumerate(steps) if step.url and not step.is_done), None)
    return [replace(step, is_next=place == first) for place, step in enumerate(steps)]


def _people(person, today):
    signers = Person.objects.visible_to(person).filter(is_active=True, groups__name="technician").distinct().count()
    words = _counted(signers, "person can carry out inspections", "people can carry out inspections")
    return _step(person, "People", signers > 0, words, "Paste people", "fleet:people_paste", "fleet.manage_people",
                 "A planner-in-chief adds people.")  # fmt: skip


def _places(person, today):
    sites, areas = Site.objects.visible_to(person).count(), Area.objects.visible_to(person).count()
    words = f"{_counted(sites, 'site', 'sites')} with {_counted(areas, 'area', 'areas')}"
    return _step(person, "Sites and areas", areas > 0, words, "Paste sites and areas", "fleet:places_paste",
                 "fleet.add_site", "A planner adds sites.")  # fmt: skip


def _models(person, today):
    models = MachineModel.objects.count()
    words = _counted(models, "machine model", "machine models")
    return _step(person, "Machine models", models > 0, words, "Start a model", "fleet:model_start",
                 "fleet.add_machinemodel", "A planner adds models; an import can make them as well.")  # fmt: skip


def _procedures(person, today):
    loaded = Procedure.objects.begun(today).count()
    words = _counted(loaded, "procedure is loaded", "procedures are loaded")
    return _step(person, "Procedures", loaded > 0, words, "Load the procedures", "first_day_procedures",
                 "inspections.change_procedure", "A planner loads them.", is_post=True)  # fmt: skip


def _limits(person, today):
    """Done once every limit in use at every site was confirmed, or looked at and left as proposed."""
    sites = list(Site.objects.visible_to(person).order_by("pk"))
    counts = looked_at_of_sites(sites).values()
    number, total = sum(one.number for one in counts), sum(one.total for one in counts)
    confirmed = sum(one.confirmed for one in counts)
    words = f"{number} of {total} published limits in use are looked at, {confirmed} of them confirmed"
    words += "; a result judged by any other says “limit not confirmed”"
    if without := next((one for one in sites if not one.rule_set), None):
        words += f"; no set of rules is chosen for {without}"
    return _step(person, "Limits looked at and approved", number == total > 0, words, "Look at the limits",
                 "inspections:limits", "inspections.add_limitoverride", "A planner confirms limits.")  # fmt: skip


def _register(person, today):
    machines = Machine.objects.visible_to(person).count()
    waiting = WaitingRow.objects.visible_to(person).of_kind("machines").count()
    words = _counted(machines, "machine is in the register", "machines are in the register")
    if waiting:
        words += f"; {_counted(waiting, 'row of a file waits', 'rows of files wait')}"
    is_done = machines > 0 and not waiting
    name = "fleet:waiting_files" if waiting else "fleet:import_register"
    label = "Mend the rows that wait" if waiting else "Import the register"
    return _step(person, "The first register", is_done, words, label, name, "fleet.import_register",
                 "A planner imports it.")  # fmt: skip


def _levelled(person, today):
    """Plan first, with one press; then spread what falls due on one day."""
    planned, all_on_one_day = (
        Inspection.objects.visible_to(person).open().count(),
        first_inspections(person, today).count(),
    )
    words = _counted(planned, "inspection is planned", "inspections are planned")
    if all_on_one_day:
        words += f"; {_counted(all_on_one_day, 'first due date is', 'first due dates are')} not levelled"
    label, name = ("Level them", "inspections:levelling") if planned else ("Plan what falls due", "first_day_plan")
    is_done = planned > 0 and not all_on_one_day
    return _step(person, "First due dates levelled", is_done, words, label, name, "inspections.plan_inspection",
                 "A planner plans and levels them.", is_post=not planned)  # fmt: skip


def _opened(person, today):
    work = Inspection.objects.visible_to(person)
    begun, signed = work.in_progress().count(), work.signed().count()
    words = f"{begun} in progress, {signed} signed"
    step = _step(person, "The first inspection", begun + signed > 0, words, "To the work", "inspections:work",
                 "inspections.view_inspection", "")  # fmt: skip
    first = work.not_begun().select_related("machine").order_by("due_on", "pk").first()
    if step.is_done or first is None:
        return step
    return replace(step, label=f"Open that of {first.machine}", url=first.get_absolute_url())


def _step(person, title, is_done, words, label, name, permission, otherwise, *, is_post=False):
    may = person.has_perm(permission)
    url = reverse(name) if may and not (is_done and is_post) else ""
    return Step(title, is_done, words, label, url, "" if may else otherwise, is_post)


def _counted(number, one, many):
    return f"{number} {one if number == 1 else many}"
