"""What is booked by technician and week, as rows of markup: as a template they take longer than the rest of a page."""

from django.utils.formats import localize

from fleet.tables.cells import in_rows, link, number_row, quiet


def booking_rows(bookings):
    """Return the rows of Bookings: a technician, the number of each week with a link to them, and their sum."""
    return in_rows(number_row(*_cells(*row)) for row in bookings.rows)


def _cells(person, weeks, total):
    own = f"?view=booked&technician={person.pk}"
    numbers = [link(f"{own}&week={week.isoformat()}", localize(n)) if n else quiet(0) for week, n in weeks]
    return link(own, person), [*numbers, localize(total)]
