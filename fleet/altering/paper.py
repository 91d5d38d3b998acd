"""A planned alteration on paper: what it is, what it changes and takes, and every machine with a place for the tick."""

from itertools import islice

from reportlab.platypus import Spacer

from fleet.altering.shown_plan import ShownPlan
from fleet.days import long_date
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    caution_box,
    data_table,
    facts,
    figure_line,
    picture,
    text,
    title_block,
)
from fleet.drawing.before_after import before_and_after, describe_before_and_after
from fleet.place_format import counted

MOST_MACHINES = 1000  # on paper; the CSV file has all
CAUTIONS = (
    "Alter a machine only as the manufacturer's instructions allow, or with the manufacturer's agreement.",
    "An altered machine waits for its retest and its release: nobody uses it before.",
)


def write_alteration_paper(shown: ShownPlan, *, made: str) -> bytes:
    """Return the plan as PDF on the paper of the place that is shown now."""
    plan = shown.plan
    paper = Paper(
        title="Alteration of machines",
        reference=plan.title,
        subject="Cover before and after, minutes, components and money, and the machines",
        made=made,
    )
    story = [*_front(shown, paper), *_changes(shown, paper), *_circuits(shown, paper), *_machines(shown, paper)]
    return build_pdf(paper, story)


def _front(shown, paper):
    plan, counts = shown.plan, shown.counts
    figures = [(counted(counts[name]), words) for name, words in (
        ("planned", "planned"), ("done", "carried out"), ("left_out", "left out"))]  # fmt: skip
    takes = [
        ("From", long_date(plan.from_date)),
        ("Planned by", str(plan.by)),
        ("Work that is left", f"{shown.hours} h"),
        ("Money that is left", ", ".join(shown.money) or "not known"),
    ]
    return [
        *title_block(plan.in_words, plan.title),
        facts(takes, paper.width, 4),
        Spacer(1, 6),
        figure_line(figures, paper.width),
        Spacer(1, 8),
        text(plan.reason),
        text(plan.entry.does, "note"),
        caution_box((plan.entry.caution, *CAUTIONS), paper.width),
    ]


def _changes(shown, paper):
    rows = [
        [line.name, counted(line.causes_before), counted(line.causes_after), counted(line.machines_before),
         counted(line.machines_after)]
        for line in shown.hazards
    ]  # fmt: skip
    if not rows:
        return [Heading("Cover before and after"), text("It has not been computed.", "note")]
    head = ["Hazard", "Causes before", "Causes after", "Machines before", "Machines after"]
    drawing = before_and_after(shown.pairs, width=paper.width, text=8)
    return [
        Heading("Cover before and after"),
        text("Open causes that are not rare, added up over the machines whose circuit could be computed.", "note"),
        picture(drawing, describe_before_and_after(shown.pairs)),
        data_table(head, rows, [paper.width * part for part in (0.36, 0.16, 0.16, 0.16, 0.16)], numbers=range(1, 5)),
    ]


def _circuits(shown, paper):
    rows = [
        [each.effect.title, counted(each.number), each.words or f"Closes: {each.closed or 'nothing'}. Opens: "
         f"{each.opened or 'nothing'}.", each.components]
        for each in shown.effects
    ]  # fmt: skip
    if not rows:
        return []
    widths = [paper.width * part for part in (0.22, 0.1, 0.43, 0.25)]
    needed = [[name, counted(number)] for name, number in shown.components]
    parts = [
        Heading("Each different circuit"),
        data_table(["Circuit", "Machines", "What changes", "Components"], rows, widths, numbers=(1,)),
    ]
    if needed:
        widths = [paper.width * 0.8, paper.width * 0.2]
        parts += [Heading("Components to fit"), data_table(["Component", "Number"], needed, widths, numbers=(1,))]
    return parts


def _machines(shown, paper):
    total, machines = shown.counts["total"], islice(shown.rows.with_place(), MOST_MACHINES)
    rows = [
        [row.machine.asset_number, str(row.machine.model), f"{row.machine.area.name}, {row.machine.area.site.name}",
         _standing(row), ""]
        for row in machines
    ]  # fmt: skip
    widths = [paper.width * part for part in (0.13, 0.22, 0.27, 0.25, 0.13)]
    parts = [Heading("Machines"), data_table(["Machine", "Model", "Location", "State", "Signed"], rows, widths)]
    if total > MOST_MACHINES:
        parts.append(text(f"{counted(total - MOST_MACHINES)} more machines are in the CSV file.", "note"))
    return parts


def _standing(row):
    if row.is_planned:
        return "Not possible on its circuit" if row.effect and row.effect.refusal else "Planned"
    if row.state == row.State.LEFT_OUT:
        return f"Left out: {row.reason}"
    return f"Carried out {long_date(row.done_on)}: {row.evidence}"
