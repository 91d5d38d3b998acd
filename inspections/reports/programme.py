"""The figures of the inspection programme on paper: what was due, what became of it, what failed."""

from dataclasses import dataclass, field

from reportlab.platypus import Flowable, Spacer

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
from fleet.drawing import number

MOST_LINES = 60  # of one split; the page shows the others
CAUTIONS = (
    "A share says nothing about a machine: one that cannot be located or is never released stays unproved.",
    "Rates of few machines and years are uncertain: decide by the upper bound, and never beyond the manufacturer's "
    "instructions or the law.",
)
DEFINITION = (
    "A due date is a machine, a procedure and a day on which it is due. It counts once, from the day after the last "
    "day of the window that was planned first. On time: a complete inspection was signed for it by that day, by the "
    "date at the site. Signed late, not signed, incomplete and voided work stays in the denominator. Not counted: a "
    "due date that an inspection for another one met, an inspection that does late what an earlier due date asked for, "
    "and a due date that a planning rule took away before the first day of its window."
)


@dataclass(frozen=True, slots=True)
class ProgrammeReport:
    """What the paper shows. `splits` holds the title of each split of the on-time figure with its lines."""

    period: object
    asked: list
    on_time: object
    splits: list
    figures: list
    tests: list
    codes: list
    pictures: list = field(default_factory=list)


def write_programme(report: ProgrammeReport, *, made: str) -> bytes:
    """Return the report on the paper of the place that is shown now."""
    between = f"{long_date(report.period.first)} to {long_date(report.period.last)}"
    paper = Paper(
        title="Inspection programme",
        reference=between,
        subject="Due dates met on time, findings and rates, each with numerator and denominator",
        made=made,
    )
    story = [*_front(report, between, paper), *_answers(report, paper)]
    for title, lines in report.splits:
        story += _split(title, lines, paper)
    story += _figures("Figures of the programme", report.figures, paper)
    story += _figures("Tests that fail most", report.tests, paper)
    drawn = [part for each in report.pictures if each.rows for part in _drawn(each, paper)]
    return build_pdf(paper, [*story, *_codes(report.codes, paper), *drawn])


def _drawn(each, paper):
    """A picture whose numbers stand in the tables of this paper."""
    return [Heading(each.title), text(each.about, "note"), picture(each.draw(paper.width, 7), each.words)]


def _front(report, between, paper) -> list[Flowable]:
    in_all = report.on_time
    share = "–" if in_all.percent is None else f"{number(in_all.percent, 1)} %"
    shown = [(share, "on time"), (in_all.on_time, "due dates met on time"), (in_all.counted, "due dates counted"),
             (in_all.excused, "missed, with an attempt")]  # fmt: skip
    return [
        *title_block("Inspection programme", "What was due, what became of it, and what the inspections found."),
        facts([("Period", between), *(report.asked or [("Machines", "All that you may see")])], paper.width, 3),
        Spacer(1, 8),
        figure_line(shown, paper.width),
        Spacer(1, 10),
        caution_box(CAUTIONS, paper.width),
    ]


def _answers(report, paper):
    rows = [[label, str(count), _in_figure(value)] for value, label, count in report.on_time.by_answer]
    rows.append(["On time, before the window", str(report.on_time.early), "among those on time"])
    rows += [[f"Missed; last attempt: {label.lower()}", str(count), "among those missed"]
             for _, label, count in report.on_time.by_excuse]  # fmt: skip
    widths = [paper.width * part for part in (0.5, 0.15, 0.35)]
    table = data_table(["Answer", "Due dates", "In the figure"], rows, widths, numbers=(1,))
    return [Heading("What became of the due dates"), text(DEFINITION, "note"), table]


def _in_figure(answer):
    if answer == "on time":
        return "numerator and denominator"
    return "not counted" if answer in ("elsewhere", "instead", "taken away") else "denominator"


def _split(title, lines, paper):
    rows = [
        [line.label, str(line.figure.on_time), str(line.figure.counted), _percent(line.figure), str(line.figure.missed),
         str(line.figure.answers["voided"]), str(line.figure.early)]
        for line in lines[:MOST_LINES]
    ]  # fmt: skip
    if not rows:
        return []
    widths = [paper.width * part for part in (0.4, *(0.1,) * 6)]
    head = [title, "On time", "Due dates", "Share", "Missed", "Voided", "Early"]
    parts = [Heading(f"On time by {title.lower()}"), data_table(head, rows, widths, numbers=range(1, 7), is_dense=True)]
    if len(lines) > MOST_LINES:
        parts.append(text(f"{len(lines) - MOST_LINES} more are listed on the page.", "note"))
    return parts


def _percent(figure):
    return "–" if figure.percent is None else f"{number(figure.percent, 1)} %"


def _figures(title, figures, paper):
    if not figures:
        return []
    rows = [
        [each.name, _digits(each, each.value), _interval(each), each.unit,
         [text(f"{each.numerator:g} {each.numerator_is}, of {each.denominator:g} {each.denominator_is}.", "small"),
          *([text(each.remark, "note")] if each.remark else [])]]
        for each in figures
    ]  # fmt: skip
    widths = [paper.width * part for part in (0.2, 0.1, 0.17, 0.13, 0.4)]
    head = ["Figure", "Value", "Interval, 95 %", "Unit", "Numerator and denominator"]
    return [Heading(title), data_table(head, rows, widths, numbers=(1, 2))]


def _digits(figure, value):
    return "–" if value is None else number(value, figure.decimals)


def _interval(figure):
    if figure.lower is None and figure.upper is None:
        return "–"
    upper = "no bound" if figure.upper is None else _digits(figure, figure.upper)
    return f"{_digits(figure, figure.lower)} to {upper}"


def _codes(codes, paper):
    rows = [[title, str(count)] for title, _, count in codes]
    if not rows:
        return []
    note = "A finding without a code counts as no hidden failure."
    widths = [paper.width * part for part in (0.8, 0.2)]
    return [Heading("Findings opened, by code"), data_table(["Code", "Findings"], rows, widths, numbers=(1,)),
            text(note, "note")]  # fmt: skip
