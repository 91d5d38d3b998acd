"""The risk score of each machine model under each procedure, every point with its reason and its source."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from dateutil.relativedelta import relativedelta
from django.db.models import Count, OuterRef, Subquery

from fleet.models import Machine, MachineModel, StatusChange
from inspections.bench import TESTS
from inspections.models import ComponentLife, Finding, Procedure, ProcedureVersion
from inspections.planning import risk
from inspections.planning.risk import Function, Maintenance, PhysicalRisk, RiskScore, history_points, interval_for
from inspections.planning.rule_choice import Rhythm, Traits
from inspections.schedule.rhythms import tables_in_force

HISTORY_MONTHS = 36  # of findings that the history looks at; common practice, no source
DAYS_OF_MONTH = 365.25 / 12
CLAIMS = "Anesthesiology 1997; 87: 741-748, abstract"
MAPPED = "how a procedure maps to these points: common practice, no source"


@dataclass(frozen=True, slots=True)
class Points:
    """One part of the score with why it has these points, and where the table is from."""

    title: str
    points: int
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """A machine model under a procedure. `rhythm` is how often rules plan it on machines of the model in general."""

    model: MachineModel
    procedure: Procedure
    machines: int
    parts: tuple[Points, ...]
    score: RiskScore
    rhythm: Rhythm

    @property
    def interval(self):
        return interval_for(self.score)

    @property
    def planned_words(self):
        return str(self.rhythm.interval) if self.rhythm.is_planned else "not planned"

    @property
    def is_planned_later(self):
        """Whether the plan is longer than the score asks for."""
        months = self.interval.months
        if months is None or not self.rhythm.is_planned:
            return False
        planned = self.rhythm.interval
        return (planned.months or planned.days / DAYS_OF_MONTH) > months


def score_pairs(on):
    """Return the pairs of a machine model with machines and a procedure with an interval, by name. Two queries."""
    models = MachineModel.objects.filter(pk__in=Machine.objects.not_retired().values("model"))
    procedures = Procedure.objects.begun(on).filter(interval_months__isnull=False)
    return [(model, procedure) for model in models for procedure in procedures]


def score_lines(pairs, person, on):
    """Return the ScoreLine of each pair, with the machines that `person` may see. Six queries at most."""
    models = {model.pk for model, _ in pairs}
    procedures = {procedure.pk: procedure for _, procedure in pairs}
    machines = Machine.objects.visible_to(person).filter(model__in=models)
    counts = _by_model(machines.not_retired())
    months, incidents = _months(machines, on), _incidents(machines, on)
    tables, lives = tables_in_force(list(procedures.values()), on), _models_with_lives(on, models)
    measured = _measured_steps(procedures, on)
    return [
        _line(
            model, procedure, counts[model.pk], (incidents[model.pk], months[model.pk]), measured[procedure.pk],
            model.pk in lives, tables[procedure.pk],
        )
        for model, procedure in pairs
    ]  # fmt: skip


def _line(model, procedure, machines, history, measured, has_lives, table):
    maintenance, why = _maintenance(measured, has_lives)
    points, said = _history(*history)
    score = RiskScore(Function.LIFE_SUPPORT, PhysicalRisk.DEATH, maintenance, points)
    parts = (
        Points("Function", int(score.function), "Life support: it ventilates a patient.", risk.SOURCE),
        Points(
            "Physical risk", int(score.physical_risk), "A failure can kill: of 72 claims caused by gas delivery "
            "equipment, 55 were for death or permanent brain damage.", f"{risk.SOURCE}; {CLAIMS}",
        ),
        Points("Maintenance", int(maintenance), why, f"{risk.SOURCE}; {MAPPED}"),
        Points("History", points, said, risk.SOURCE),
    )  # fmt: skip
    # A rule for one machine, area, site or safety feature reaches some machines only and is left out here.
    rhythm = table.rhythm(Traits(machine=0, model=model.pk, area=0, site=0))
    return ScoreLine(model, procedure, machines, parts, score, rhythm)


def _maintenance(measured, has_lives):
    steps, every = measured
    if steps and has_lives:
        words = f"Extensive: {steps} of {every} steps measure, and components are replaced when their life ends."
        return Maintenance.EXTENSIVE, words
    if steps:
        return Maintenance.ABOVE_AVERAGE, f"Above average: {steps} of {every} steps measure."
    return Maintenance.AVERAGE, f"Average: its {every} steps look and check, and none measures."


def _history(incidents, months):
    if not months:
        return 0, "No machine of the model was in the register in this time, so nothing is known: 0 points."
    spacing = f"one every {months / incidents:.0f} machine months" if incidents else "none"
    words = f"{incidents} findings in {months:.0f} machine months of the last {HISTORY_MONTHS} months: {spacing}."
    return history_points(incidents, months), words


def _by_model(machines):
    return Counter(dict(machines.order_by().values_list("model").annotate(number=Count("pk"))))


def _months(machines, on):
    """Months that machines were in the register and not retired in the time of the history, by model."""
    first = on - relativedelta(months=HISTORY_MONTHS)
    retired = StatusChange.objects.filter(machine=OuterRef("pk"), status="retired").order_by("-changed_on")
    rows = machines.order_by().values_list("model", "in_use_from", Subquery(retired.values("changed_on")[:1]))
    found = defaultdict(float)
    for model, in_use_from, retired_on in rows:
        end = min(retired_on or on, on)
        found[model] += max(0, (end - max(in_use_from, first)).days + 1) / DAYS_OF_MONTH
    return found


def _incidents(machines, on):
    """Findings of faults in the time of the history, by model."""
    first = on - relativedelta(months=HISTORY_MONTHS)
    rows = Finding.objects.of_faults().filter(
        machine__in=machines.order_by().values("pk"), opened_at__date__gte=first, opened_at__date__lte=on
    )
    return Counter(dict(rows.order_by().values_list("machine__model").annotate(number=Count("pk"))))


def _models_with_lives(on, models):
    """The models of which components have a life: all of them where a life is set for every model."""
    named = set(ComponentLife.objects.in_force(on).values_list("machine_model", flat=True))
    return models if None in named else named & models


def _measured_steps(procedures, on):
    """By key of a procedure, how many steps of its version in force have readings, and how many steps there are."""
    versions = ProcedureVersion.objects.begun(on).filter(procedure__in=procedures).order_by("number")
    in_force = dict(versions.values_list("procedure", "content"))  # the newest comes last, and stays
    return {pk: _counted(in_force[pk]["step"] if pk in in_force else ()) for pk in procedures}


def _counted(steps):
    measured = [one for one in steps if one["test"] in TESTS and TESTS[one["test"]].readings]
    return len(measured), len(steps)
