"""The device books of chosen machines, as one archive of paper, data, records and attached files."""

import tempfile
import zipfile

from django.db import transaction

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.models import Machine
from inspections.actions import record_device_books
from inspections.device_book.archive import MOST_BYTES, BookArchive, bytes_of_files
from inspections.errors import Refused

DEVICE_BOOKS = "device-books"
MOST_MACHINES = 20
IN_MEMORY = 16 * 1024 * 1024


def request_device_books(machines, *, by, at):
    """Ask for the books of a queryset of machines. Raise Refused for none, and for more than MOST_MACHINES."""
    chosen = sorted(machines.order_by().values_list("pk", flat=True)[: MOST_MACHINES + 1])
    if not chosen:
        raise Refused("There is no machine in this list, so there is no device book to make.")
    if len(chosen) > MOST_MACHINES:
        raise Refused(f"More than {MOST_MACHINES} machines are too many at once. Tick {MOST_MACHINES} or fewer.")
    title = "Device book" if len(chosen) == 1 else f"Device books of {len(chosen)} machines"
    if len(chosen) == 1:
        title += f" of machine {machines.get(pk=chosen[0])}"
    return request_job(DEVICE_BOOKS, title=title, params={"machines": chosen}, by=by, at=at)


@job_kind(DEVICE_BOOKS, "Device books", permission="inspections.make_devicebook")
def make_device_books(run):
    """Write the book of each machine that the person may still see, and store that it was made."""
    chosen = run.params["machines"]
    machines = list(Machine.objects.visible_to(run.by).with_place().filter(pk__in=chosen).order_by("asset_number"))
    if (size := bytes_of_files(machines)) > MOST_BYTES:
        raise Refused(
            f"The attached files have {size / 1e6:,.0f} MB; one archive takes {MOST_BYTES / 1e6:,.0f} MB. Choose fewer "
            "machines."
        )
    with tempfile.SpooledTemporaryFile(IN_MEMORY) as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as opened:
            archive = BookArchive(opened, run.by, run.started_at)
            made = [archive.add(one) for one in run.each(machines, "Writing device books")]
            archive.close()
        result = Result(_words(made, chosen, archive), file=file, name=_name(machines, run))
        with transaction.atomic():
            record_device_books(made, by=run.by, at=run.started_at)
            run.finish(result)


def _words(made, chosen, archive):
    words = f"{_counted(len(made), 'device book')} written."
    if unseen := len(chosen) - len(made):
        words += f" Left out, because no longer visible to you: {_counted(unseen, 'machine')}."
    if archive.altered:
        altered = _counted(len(archive.altered), "file")
        words += f" Altered since it was stored: {altered}. manifest.json names it; verify the store."
    return words


def _counted(number, what):
    return f"{number} {what}{'' if number == 1 else 's'}"


def _name(machines, run):
    what = machines[0].asset_number if len(machines) == 1 else "machines"
    what = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in what)
    return f"device-book-{what}-{run.started_at:%Y-%m-%d}.zip"
