"""The fleet in pictures on paper: each picture as on the page, with its table."""

from reportlab.platypus import Spacer

from fleet.documents import Heading, Paper, build_pdf, caution_box, data_table, facts, picture, text, title_block

TEXT = 7.5
MOST_ROWS = 40
MOST_COLUMNS = 9  # of a table on paper; a table of more columns is in its picture alone
CAUTIONS = (
    "Pictures show what is recorded. They are no check of a machine before use.",
    "Rates of few machines are uncertain, and exposure rests on weights that the department has chosen.",
)


def write_pictures(pictures, asked, *, made) -> bytes:
    """Return all pictures in landscape on the paper of the place that is shown now."""
    paper = Paper(
        title="Fleet in pictures",
        reference="; ".join(words for _, words in asked) or "All machines",
        subject="Work, safety features, age, findings and exposure of the anaesthesia gas machines",
        made=made,
        is_landscape=True,
    )
    story = [
        *title_block("Fleet in pictures", "The work on the machines, what they are, and what they leave open."),
        *([facts(asked, paper.width, 4)] if asked else []),
        Spacer(1, 6),
        caution_box(CAUTIONS, paper.width),
    ]
    for each in pictures:
        story += _picture(each, paper)
    return build_pdf(paper, story)


def _picture(each, paper):
    if not each.rows:
        return [Heading(each.title), text(each.empty)]
    parts = [Heading(each.title), text(each.about, "note"), picture(each.draw(paper.width, TEXT), each.words)]
    if len(each.header) > MOST_COLUMNS:
        return parts
    rows = [[str(value) for value in row] for row in each.rows[:MOST_ROWS]]
    first, others = 0.34, 0.66 / max(1, len(each.header) - 1)
    widths = [paper.width * first, *([paper.width * others] * (len(each.header) - 1))]
    numbers = range(1, len(each.header))
    parts += [Spacer(1, 6), data_table(list(each.header), rows, widths, numbers=numbers, is_dense=True)]
    if len(each.rows) > MOST_ROWS:
        parts.append(text(f"{len(each.rows) - MOST_ROWS} more rows are on the page.", "note"))
    return parts
