"""What a sum can close, on two pages for a board: the answer with its picture, then tables and what is not known."""

from django.utils.text import Truncator
from reportlab.platypus import PageBreak, Spacer

from fleet.catalogue.currencies import from_smallest_units
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
from fleet.place_format import counted
from fleet.web.at_site import day_words
from inspections.drawing import FrontierPoint, describe_frontier, frontier_drawing
from inspections.retirement.shown_choice import UNIT, WHAT_IT_SAYS

MOST_GROUPS, MOST_UNKNOWN, MOST_WEIGHTS, LONGEST = 12, 8, 5, 400
CAUTION = (
    "This paper compares plans by the weights below; it decides nothing. The responsible clinician judges the risk.",
    "Alter a machine only according to the manufacturer's instructions or with their agreement, and test it after.",
)


def frontier_points(shown):
    """The points of the picture, money in whole units of the currency."""
    currency = shown.choice.currency
    return [
        FrontierPoint(float(from_smallest_units(row.yearly, currency)), row.left, row.bound, row.is_asked)
        for row in shown.frontier
    ]


def write_board_paper(shown) -> bytes:
    """Return the paper as PDF bytes, on the paper of the place that is shown now."""
    choice = shown.choice
    paper = Paper(
        title=f"What a sum can close: {choice.title}",
        reference=f"Choice {choice.pk}, {day_words(choice.at)}",
        subject="Which machines to alter, replace or retire for a sum of money",
        made=f"Computed for {choice.by}, {day_words(choice.at)}",
    )
    return build_pdf(paper, [*_answer(shown, paper), PageBreak(), *_tables(shown, paper)])


def _answer(shown, paper):
    points, currency = frontier_points(shown), shown.choice.currency
    drawing = frontier_drawing(points, currency=currency, unit=UNIT, width=paper.width, height=200, text=9)
    return [
        *title_block(shortened(f"What a sum can close: {shown.choice.title}", 90), shown.answer),
        figure_line(shown.figures, paper.width),
        Spacer(1, 6),
        text(f"{shown.proof} {shown.greedy_words}"),
        *(text(words) for words in shown.what_if),
        Spacer(1, 6),
        facts(shown.limits, paper.width, 3),
        Spacer(1, 8),
        picture(drawing, describe_frontier(points, currency)),
        text(
            "The line: what is left with the best plan found. Dotted: no plan whatever leaves less. The inputs are "
            f"stored; their SHA-256 begins with {shown.choice.digest[:16]}.",
            "note",
        ),
        Spacer(1, 6),
        *bullets(WHAT_IT_SAYS, "note"),
        Spacer(1, 6),
        caution_box(CAUTION, paper.width),
    ]


def _tables(shown, paper):
    return [
        Heading("Exposure left for each sum"),
        _frontier_table(shown, paper),
        Heading("The plan by year"),
        *_groups(shown, paper),
        Heading("Weights in force"),
        *_weights(shown.result["weights"]),
        Heading("What is not known"),
        *_sentences(
            [f"{words} ({counted(number)})" for words, number in shown.result["unknown"]],
            MOST_UNKNOWN,
            "More is listed on the page.",
        ),
    ]


def _frontier_table(shown, paper):
    rows = [
        [row.amount, row.left_words, f"{row.part} %", row.done, "reached" if row.is_proved else "not reached"]
        for row in shown.frontier
    ]
    widths = [paper.width * part for part in (0.22, 0.16, 0.12, 0.36, 0.14)]
    return data_table(
        ["A year", UNIT.capitalize(), "Left", "Machines", "Bound"], rows, widths, numbers=(0, 1, 2), is_dense=True
    )


def _groups(shown, paper):
    groups = shown.groups
    if not groups:
        return [text("Nothing is done: no option closes anything within the limits.")]
    rows = [
        [row.year, shortened(row.what, 90), shortened(row.model, 50), counted(row.machines), row.amount, row.closes]
        for row in groups[:MOST_GROUPS]
    ]
    widths = [paper.width * part for part in (0.07, 0.33, 0.22, 0.1, 0.16, 0.12)]
    head = ["Year", "What", "Model", "Machines", "Money", "Closes"]
    table = data_table(head, rows, widths, numbers=(0, 3, 4, 5), is_dense=True)
    more = len(groups) - MOST_GROUPS
    return [table, *([text(f"{more} more lines are in the workbook.", "note")] if more > 0 else [])]


def _weights(words):
    """The default weights first, then those of the sites."""
    return _sentences([*words[-1:], *words[:-1]], MOST_WEIGHTS, "The weights of more sites are on the page.")


def _sentences(words, most, more):
    if not words:
        return [text("Nothing is missing that was looked for.", "note")]
    shown = [shortened(each, LONGEST) for each in words[:most]]
    return bullets([*shown, more] if len(words) > most else shown, "note")


def shortened(words, most):
    """Return a text cut to a number of letters, so that the paper has its two pages whatever was typed."""
    return Truncator(words).chars(most)
