"""The cover report on paper: what is missing, where, which hazards that leaves open, and the matrix itself."""

from itertools import islice

from reportlab.platypus import PageBreak, Spacer

from fleet.cover_report.circuit_pages import circuit_story
from fleet.cover_report.report import CoverReport, machine_rows
from fleet.days import long_date
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    bullets,
    caution_box,
    data_table,
    facts,
    figure_line,
    picture,
    text,
    title_block,
)
from fleet.documents.phrases import lower_first, percent
from fleet.drawing import MatrixColumn, MatrixRow, matrix, rows_that_fit
from fleet.drawing.key import feature_key
from fleet.place_format import counted

MOST_ROWS = 500  # a longer matrix is not useful on paper
KEY_IN_WORDS = "Key: the mark of each state of a safety feature."
TEXT = 7.5
CAUTIONS = (
    "This report shows the contents of the register. It is not a pre-use check of a machine.",
    "A fitted safety feature may not work: only an inspection shows that. If the state is not known, check the "
    "machine.",
    "Alter a machine only as the manufacturer's instructions allow, or with the manufacturer's agreement, then "
    "test it.",
)


def write_pdf(report: CoverReport, machines, made: str) -> bytes:
    """Return the report in landscape. Above MOST_ROWS machines a note replaces the matrix."""
    paper = Paper(
        title="Cover report",
        reference=f"As of {long_date(report.wanted.on)}",
        subject="Safety features of the anaesthesia gas machines, gaps and open hazards",
        made=f"{made}, {long_date(report.wanted.today)}",
        is_landscape=True,
    )
    story = [
        *_front(report, paper),
        *_hazards(report, paper),
        *circuit_story(report, paper),
        *_totals(report, paper),
        *_places(report, paper),
    ]
    return build_pdf(paper, story + _matrix(report, machines, paper))


def _front(report, paper):
    figures = [
        (counted(report.machines), "machines in this report"),
        (counted(report.with_gap), f"machines with a gap in {_subject(report)}"),
        (counted(report.gaps), "gaps in total, desirable safety features not counted"),
        (counted(report.doubts), "entries not known: the machine must be checked"),
    ]
    lead = (
        "Which safety features the anaesthesia gas machines have, which they lack, and which hazards that leaves open."
    )
    return [
        *title_block("Cover report", lead),
        facts(report.wanted.in_words(), paper.width, columns=4),
        Spacer(1, 10),
        figure_line(figures, paper.width),
        Spacer(1, 10),
        caution_box(CAUTIONS, paper.width),
    ]


def _subject(report):
    if report.wanted.feature:
        return lower_first(report.wanted.subject[0].name)
    return "any safety feature that is essential or expected"


def _hazards(report, paper):
    rows = [
        [
            text(each.hazard.name, "small-strong"),
            ", ".join(feature.name for feature in each.features if not feature.is_unwanted),
            counted(each.machines),
            percent(each.share),
        ]
        for each in report.hazards
    ]
    if not rows:
        return []
    head = ["Hazard", "Safety features that cover it", "Machines that lack one", "Share"]
    widths = [paper.width * part for part in (0.19, 0.59, 0.14, 0.08)]
    note = (
        "Machines that lack at least one safety feature against the hazard, or have an unwanted feature that causes "
        "it. Sorted by the number of machines, then by the severity weight of the catalogue, which is a matter of "
        "policy. Desirable safety features are not counted."
    )
    return [Heading("Hazards left open"), text(note, "note"), data_table(head, rows, widths, numbers=(2, 3))]


def _totals(report, paper):
    head = ["Safety feature", "Fitted", "Not fitted", "Not known", "Replaced", "Does not apply", "Gaps", "Share"]
    widths = [paper.width * part for part in (0.4, 0.08, 0.09, 0.09, 0.09, 0.1, 0.08, 0.07)]
    parts = [Heading("Safety features")]
    for each, totals in report.classes:
        rows = [_total_row(total) for total in totals]
        parts += [
            Heading(each.capitalize(), level=1, key=f"class-{each}"),
            data_table(head, rows, widths, numbers=range(1, 8)),
        ]
    parts.append(
        text(
            "Replaced: another fitted safety feature does the same job. Share: gaps among the machines to which the "
            "safety feature applies. An unwanted feature is a gap where it is fitted.",
            "note",
        )
    )
    return parts


def _total_row(total):
    counts = [total.fitted, total.not_fitted, total.doubt, total.replaced, total.does_not_apply]
    gap = text(counted(total.gap), "number-alarm") if total.gap else "0"
    return [total.feature.name, *(counted(count) for count in counts), gap, percent(total.gap_share)]


def _places(report, paper):
    rows, bold = [], []
    for site in report.sites:
        bold.append(len(rows) + 1)
        rows.append([text(site.name, "small-strong"), *_place_figures(site)])
        rows += [[text(area.name, "small-indent"), *_place_figures(area)] for area in site.areas]
    if not rows:
        return []
    head = ["Site and area", "Machines", "With a gap", "Share", "Gaps"]
    widths = [paper.width * part for part in (0.52, 0.12, 0.12, 0.12, 0.12)]
    return [
        Heading("By site and area"),
        text(f"Machines with a gap in {_subject(report)}.", "note"),
        data_table(head, rows, widths, numbers=range(1, 5)),
    ]


def _place_figures(place):
    return [counted(place.machines), counted(place.with_gap), percent(place.share), counted(place.gaps)]


def _matrix(report, machines, paper):
    if not report.machines:
        return [Heading("Machines"), text("No machine meets these conditions.")]
    if report.machines > MOST_ROWS:
        words = (
            f"The matrix of {counted(report.machines)} machines is left out: paper holds at most {MOST_ROWS}. "
            "Narrow the filter, or use the workbook, which lists them all."
        )
        return [Heading("Machines"), text(words)]
    columns = [MatrixColumn(each.name, each.feature_class == "essential") for each in report.wanted.columns]
    head = [Heading("Machines and safety features"), picture(feature_key(paper.width), KEY_IN_WORDS), Spacer(1, 4)]
    room = paper.height - 62
    per_page = max(1, rows_that_fit(room, columns, TEXT))
    rows = (_matrix_row(row) for row in machine_rows(machines.iterator(chunk_size=500), report.wanted))
    parts = [PageBreak(), *head]
    while batch := list(islice(rows, per_page)):
        parts += [picture(matrix(batch, columns, paper.width, TEXT), _matrix_in_words(batch)), PageBreak()]
        per_page = max(1, rows_that_fit(paper.height, columns, TEXT))
    return parts[:-1] + bullets(["Essential safety features are in bold."], "note")


def _matrix_in_words(batch):
    machines = f"{len(batch)} machine{'' if len(batch) == 1 else 's'}"
    return f"Marks of {machines} by safety feature. The workbook of this report holds them as a table of words."


def _matrix_row(row):
    machine = row.machine
    words = (cell.word for cell in row.cells)
    states = tuple("" if word == "does not apply" else word for word in words)
    return MatrixRow(machine.asset_number, f"{machine.model.name}, {machine.area.name}", states)
