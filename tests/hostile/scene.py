"""A scene with a row of every model with texts, and all its addresses."""

from django.urls import reverse

from fleet.imports import IMPORTERS
from fleet.imports.uploads import check_upload
from fleet.models import (
    ChangeEntry,
    ColumnMapping,
    EarlierInspection,
    FeatureState,
    Job,
    Machine,
    MachineCover,
    RegisterUpload,
)
from fleet.views.money import KINDS as MONEY_KINDS
from inspections.actions import add_criterion, confirm_competence, withdraw_criterion
from inspections.models import (
    Amendment,
    Competence,
    CriterionJudgement,
    Inspection,
    ProposedDay,
    ReadingFileMapping,
    Result,
    SafetyNotice,
    YearPlan,
)
from inspections.review import CRITERIA
from tests.factories import NOON, TODAY, make_forecast, make_machine, make_person, make_value_meaning
from tests.inspections.calendar_runs import make_calendar_rows
from tests.inspections.dossier_scene import store_policy
from tests.inspections.notices.scenes import KIND
from tests.matrix.addresses import all_addresses
from tests.matrix.scene import make_scene

FORMATS = ("csv", "xlsx", "pdf", "json", "toml")
TRACKED = (
    "machine",
    "machine-model",
    "site",
    "area",
    "instrument",
    "finding",
    "inspection",
    "component",
    "person",
    "attachment",
)
QUERIES = {
    "fleet:machines": ("?q=hostile", "?page=2", "?export=xlsx"),
    **{f"fleet:{name}": ("?export=csv", "?export=xlsx") for name in ("instruments", "models", "people", "api_tokens")},
    "fleet:jobs": ("?export=csv",),
    "inspections:review": ("?export=csv",),
    "inspections:work": tuple(f"?view={view}{end}" for view in ("signed", "void") for end in ("", "&export=csv")),
    "inspections:fault_reports": ("?view=settled", "?export=csv", "?view=settled&export=csv"),
    "inspections:notices": ("?state=open", "?export=csv"),
    "fleet:component_list": ("?q=hostile", "?export=csv"),
    "fleet:value_meanings": ("?export=csv",),
    "fleet:model_start": ("?kind=three-gas",),
    "search": ("?q=hostile", "?q=R-24"),
    "inspections:trends": ("?show=every", "?export=csv"),
    "inspections:attempted": ("?export=csv",),
    "inspections:interval_dossiers": ("?view=all",),
    "fleet:away_machines": ("?view=any", "?q=hostile", "?export=csv"),
    "inspections:due_dates": ("?export=csv",),
    "inspections:programme": ("?export=csv",),
    "inspections:year_plan": ("?list=unplaced",),
    "inspections:findings": ("?view=closed", "?export=csv", "?view=closed&export=csv"),
}  # fmt: skip
LEAVES = ("logout", "session")


def make_hostile_scene():
    """The scene of every address, and a row in each model that it leaves empty."""
    scene = make_scene()
    machine = Machine.objects.get(pk=scene.values["machines/"]["pk"])
    by = {"by": scene.planner, "at": NOON}
    FeatureState.objects.create(
        machine=machine, feature="o2-analyser", state="fitted", from_date=TODAY, evidence="seen", note="words",
        recorded_at=NOON,
    )  # fmt: skip
    CriterionJudgement.objects.create(
        machine=machine, criterion=next(iter(CRITERIA)), answer="met", reason="words", **by
    )
    signed = Inspection.objects.get(pk=scene.values["inspections/<int:pk>/amend"]["pk"])
    Amendment.objects.create(inspection=signed, correction="words", reason="words", **by)
    EarlierInspection.objects.create(
        machine=machine, done_on=TODAY, procedure="words", source="old.csv", recorded_at=NOON
    )
    ChangeEntry.objects.filter(record="machine").update(before={"Note of it": "two words"})
    _uncovered(machine)
    _watched(machine)
    _retried_import(scene)
    _planned_year(machine, scene)
    _withdrawn(scene)
    store_policy(scene.planner)
    return scene


def _withdrawn(scene):
    """A line that a notice does not name, and a competence in a skill."""
    notice = SafetyNotice.objects.get(pk=scene.values["notices/"]["pk"])
    wrong = add_criterion(notice, what="component", kind=KIND, lots="Q-1", by=scene.planner, at=NOON)
    withdraw_criterion(wrong, reason="words", by=scene.planner, at=NOON)
    Competence.objects.create(
        person=make_person("technician"), skill="words", evidence="words", confirmed_by=scene.planner, confirmed_at=NOON
    )


def hand_over(person):
    """Make this person the owner of files, background jobs and plans of a year, which only their owner sees."""
    YearPlan.objects.update(by=person)
    RegisterUpload.objects.update(by=person)
    Job.objects.update(by=person)


def _uncovered(machine):
    """A machine whose circuit has no table, with a reason."""
    other = make_machine(area=machine.area, model=machine.model)
    MachineCover.objects.create(
        machine=other, basis="words", reason="words", measured=["words and words"], on=TODAY, computed_at=NOON
    )


def _watched(machine):
    """A result of the machine whose trend is on the watch list."""
    latest = Result.objects.filter(step__inspection__machine=machine, value__isnull=False).first()
    make_forecast(latest, subject="words")


def _planned_year(machine, scene):
    """Calendars, and a plan with a day for one inspection and none for another."""
    make_calendar_rows(machine, scene.planner)
    technician = make_person("technician")
    confirm_competence(technician, manufacturer="words", evidence="words", by=scene.planner, at=NOON)
    days = {"first_day": TODAY, "last_day": TODAY}
    plan = YearPlan.objects.create(by=scene.planner, made_at=NOON, gap=0.1, **days)
    first, second = Inspection.objects.planned().filter(machine=machine)[:1], Inspection.objects.order_by("pk")[:1]
    for inspection in first:
        ProposedDay.objects.create(plan=plan, inspection=inspection, technician=technician, day=TODAY, minutes=60)
    for inspection in second:
        said = {"binding": "area closed", "reason": "words", "remedy": "words"}
        ProposedDay.objects.create(plan=plan, inspection=inspection, minutes=60, **said)


def _retried_import(scene):
    """A file that was read, with chosen columns; its pages are among the addresses."""
    person = scene.planner
    content = "asset_number,Ward name\n=1,wörds and words\n".encode()
    upload = RegisterUpload.objects.create(name="words.csv", content=content, by=person, uploaded_at=NOON)
    check_upload(upload, today=TODAY)
    scene.values["machines/import/"] = {"pk": upload.pk}
    make_value_meaning(None, person, column="serial", written="words", meaning="words")
    columns = {"Ward name": "area"}
    RegisterUpload.objects.filter(pk=upload.pk).update(settings={"columns": columns})
    ColumnMapping.objects.create(kind="machines", digest="0" * 64, columns=columns, by=person, said_at=NOON)
    ReadingFileMapping.objects.create(
        instrument="Words", test_code="supply-failure", digest="0" * 64, decimal=".", by=person, said_at=NOON,
        columns={"Words": {"to": "words and words", "unit": "psi"}},
    )  # fmt: skip


def addresses(scene):
    """Yield (name, path) of everything that is requested with GET, with every format and kind of file."""
    for address in all_addresses():
        if address.name in LEAVES:
            continue
        for values in _variants(address, scene.values_of(address)):
            path = reverse(address.name, kwargs=values)
            posted = scene.posted.get(address.name)
            for query in ("", *QUERIES.get(address.name, ())):
                if not posted:
                    yield address, path + query


def _variants(address, values):
    choices = [values]
    if "fmt" in values:
        choices = [one | {"fmt": fmt} for one in choices for fmt in FORMATS]
    if "kind" in values:
        of_route = {"changes/": TRACKED, "money/": MONEY_KINDS}
        kinds = next((kinds for start, kinds in of_route.items() if address.route.startswith(start)), IMPORTERS)
        choices = [one | {"kind": kind} for one in choices for kind in kinds]
    return choices
