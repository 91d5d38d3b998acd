"""The week on paper: every booking of each technician by day, with a box for the tick."""

from reportlab.platypus import PageBreak, Spacer

from fleet.days import long_date
from fleet.documents import Heading, Paper, build_pdf, data_table, figure_line, text, title_block
from fleet.place_format import counted

HEAD = ["Day", "Machine", "Location", "Inspection", "Last day", "About", "Done"]
PARTS = (0.15, 0.19, 0.22, 0.2, 0.11, 0.07, 0.06)


def write_week(weeks, days, *, made) -> bytes:
    """Return the week; `weeks` are WeekOfTechnician. Each technician begins a page, to be taken along."""
    between = f"{long_date(days[0])} to {long_date(days[-1])}"
    paper = Paper(
        title="Bookings of a week",
        reference=between,
        subject="Booked inspections by technician and day",
        made=made,
        is_landscape=True,
    )
    held = [week for week in weeks if week.bookings]
    story = [*title_block("Bookings of a week", between)]
    if not held:
        return build_pdf(paper, [*story, text("Nothing is booked in this week.")])
    for number, week in enumerate(held):
        story += [*([PageBreak()] if number else []), *_technician(week, paper)]
    return build_pdf(paper, story)


def _technician(week, paper):
    figures = [
        (counted(len(week.bookings)), "inspections"),
        (f"{week.load / 60:.1f} h", "of work, about"),
        (f"{week.hours / 60:.1f} h", "hours of the week"),
    ]
    rows = [_row(day, booking) for day in week.days for booking in day.bookings]
    widths = [paper.width * part for part in PARTS]
    return [
        Heading(str(week.person)),
        figure_line(figures, paper.width),
        Spacer(1, 6),
        data_table(HEAD, rows, widths, numbers=(5,)),
    ]


def _row(day, booking):
    inspection = booking.inspection
    machine = inspection.machine
    return [
        f"{day.day:%a} {long_date(day.day)}", f"{machine} ({machine.model})",
        f"{machine.area.name}, {machine.site.name}", str(inspection.procedure),
        f"{long_date(inspection.closes_on)}{' (late)' if booking.is_late else ''}", f"{booking.minutes} min", "",
    ]  # fmt: skip
