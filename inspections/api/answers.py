"""What the API says of inspections, steps, readings and results."""

from dataclasses import asdict
from datetime import date, datetime

from ninja import Field, Schema

from fleet.api.machine_answers import MachineBrief, PersonOut
from fleet.api.places import AreaBrief, SiteBrief
from inspections.bench.decision_words import decision_words
from inspections.bench.limits import NOT_CONFIRMED
from inspections.bench.serialise import result_to_dict

SI = "SI; a pressure is gauge."


class ProcedureBrief(Schema):
    code: str
    title: str


class InspectionOut(Schema):
    id: int
    machine: MachineBrief
    site: SiteBrief = Field(alias="machine.area.site")
    area: AreaBrief = Field(alias="machine.area")
    procedure: ProcedureBrief
    stage: str = Field(description="planned, booked, on bench (in progress), signed, countersigned or void.")
    is_complete: bool | None = Field(
        description="Whether every essential step that applies was tested and judged; null before the signature. An "
        "incomplete inspection settles no due date."
    )
    result: str | None = Field(
        description="Of the whole inspection: incomplete, or the worst decision in the words of a result, or "
        "“no judged result”; null before the signature."
    )
    due_on: date
    opens_on: date = Field(description="First day of the due window.")
    closes_on: date = Field(description="Last day of the due window; overdue after it.")
    booked_on: date | None
    technician: PersonOut | None
    opened_at: datetime | None
    signed_at: datetime | None
    countersigned_at: datetime | None

    @staticmethod
    def resolve_is_complete(inspection):
        return not inspection.is_incomplete if inspection.is_signed else None

    @staticmethod
    def resolve_result(inspection):
        return inspection.result_words or None


class ReadingOut(Schema):
    id: int
    field: str
    row: int = Field(description="Row of a table from 0; 0 for a single value.")
    column: str = Field(description="Column of a table; empty for a single value or a choice.")
    as_read: str = Field(description="As the gauge showed it: a number in `unit`, yes or no, or a choice.")
    read_again: list[str] = Field(
        description="What the same quantity was read as again, in `unit`: the mean of all counts. Mostly empty."
    )
    unit: str
    zero: str = Field(description="gauge or absolute for a pressure, else empty.")
    instrument: str | None = Field(description="Code of the instrument.")
    entered_by: PersonOut
    program: str | None = Field(description="The program that entered it with a token of `entered_by`, else null.")
    entered_at: datetime
    is_contested: bool = Field(description="Saved beside another current reading until a person chooses between them.")

    @staticmethod
    def resolve_read_again(reading):
        return reading.read_again.split()

    @staticmethod
    def resolve_program(reading):
        return reading.token.name if reading.token else None

    @staticmethod
    def resolve_instrument(reading):
        return reading.instrument.code if reading.instrument else None


class LimitOut(Schema):
    rule: str
    title: str
    lower_si: float | None = Field(description=SI)
    upper_si: float | None = Field(description=SI)
    source: str
    edition: str
    basis: str = Field(description="How reliable the source is.")
    confirmation: str = Field(
        "",
        description="Who confirmed the limit for the site, by which edition and when; “not confirmed” if nobody did; "
        "empty where it is not stated.",
    )
    note: str
    strict: bool = Field(description="Whether a value exactly on the limit is outside.")


class ResultOut(Schema):
    key: str
    label: str
    value: float | None = Field(description="In `unit`; a pressure is gauge. Null: not measured.")
    unit: str
    expanded_uncertainty: float = Field(description="In `unit`, about 95 %.")
    coverage_factor: float
    value_si: float | None = Field(description="In `si_unit`; a pressure is gauge. Null: not measured.")
    std_uncertainty_si: float
    expanded_uncertainty_si: float
    margin_si: float | None = Field(description="Distance to the nearest limit, positive inside; null without one.")
    si_unit: str
    dof: float | None = Field(description="Effective degrees of freedom; null where without bound.")
    limit: LimitOut | None
    decision: str | None = Field(
        description="By ILAC-G8: pass, conditional pass, conditional fail or fail, followed by “, limit not confirmed” "
        "where nobody has confirmed the limit for the site; else not tested, not decided; null: reported only. "
        "`reason` and `why` say why it is none of the first four."
    )
    probability: float | None = Field(description="Of conformity, 0 to 1 (JCGM 106:2012).")
    convention: str
    remark: str
    reason: str = Field("", description="Why it is not tested, not decided or only reported; empty if judged.")
    why: str = Field("", description="The same as a sentence, with what would suffice.")
    sufficient_uncertainty_si: float | None = Field(
        None, description="Expanded uncertainty with which this value would be decided; null where it is."
    )


class NotJudgedOut(Schema):
    key: str
    label: str
    reason: str


class StepOut(Schema):
    id: int
    position: int
    code: str
    title: str
    test: str = Field(alias="test_code")
    subject: str
    component: str | None
    is_essential: bool
    applies: bool
    absence: str = Field(description="Why the step does not apply.")
    not_tested_reason: str
    state: str = Field(description="as found or as left, of a step with several sets of readings; else empty.")
    as_left_of: int | None = Field(
        alias="as_left_of_id",
        description="Id of the step as found, for readings taken after a repair; the highest `set_number` counts.",
    )
    set_number: int = Field(description="1 for the first set of readings of a step, also as found.")
    work_done: str = Field(description="What was repaired or adjusted before this set; empty for the first.")
    readings: list[ReadingOut] = Field(description="The current readings; corrected ones stay in the record only.")
    outcomes: list[ResultOut] = Field(description="Fixed by the signature; empty before it.")

    @staticmethod
    def resolve_component(step):
        return step.component.label if step.component else None

    @staticmethod
    def resolve_readings(step):
        return step.standing_readings

    @staticmethod
    def resolve_outcomes(step):
        return [result_answer(result.content) for result in step.results.all()]


class InspectionDetail(InspectionOut):
    version: int | None = Field(description="Version of the procedure; set when the inspection starts.")
    note: str
    ambient_pa_abs: float = Field(description="As measured, else the standard atmosphere at the site, Pa absolute.")
    temperature_c: float = Field(description="°C.")
    signed_by: PersonOut | None
    countersigned_by: PersonOut | None
    void_reason: str
    retests: list[int] = Field(description="Findings that this inspection retests.")
    steps: list[StepOut]

    @staticmethod
    def resolve_version(inspection):
        return inspection.version.number if inspection.version else None

    @staticmethod
    def resolve_retests(inspection):
        return [finding.pk for finding in inspection.retests.all()]

    @staticmethod
    def resolve_steps(inspection):
        return list(inspection.steps.all())


class EvaluationOut(Schema):
    step: int
    outcomes: list[ResultOut]
    decision: str | None = Field(description="The worst of the results so far, in the words of a result.")
    missing: list[str] = Field(description="What is still needed before a result.")
    remarks: list[str]
    assumed: list[str] = Field(description="What was not read and is taken for granted.")
    not_judged: list[NotJudgedOut] = Field(description="Readings on which no decision rests, with the reason.")
    error: str = Field(description="Why a reading can't be right, in a sentence; empty if all are accepted.")


def result_answer(content):
    """A stored or computed result with its decision in words, as pages show it."""
    confirmation = (content["limit"] or {}).get("confirmation", "")
    confirmed = confirmation != NOT_CONFIRMED if confirmation else None
    return {**content, "decision": decision_words(content["decision"], confirmed) or None}


def evaluation_answer(step, step_result):
    """What the readings of a step say now, from its StepResult."""
    return {
        "step": step.pk,
        "outcomes": [result_answer(result_to_dict(result)) for result in step_result.evaluation.results],
        "decision": step_result.words or None,
        "missing": list(step_result.evaluation.missing),
        "remarks": list(step_result.evaluation.remarks),
        "assumed": list(step_result.evaluation.assumed),
        "not_judged": [asdict(one) for one in step_result.evaluation.not_judged],
        "error": step_result.error,
    }
