"""Store the readings of a file of an instrument, all or none, and remember where its columns go."""

from django.db import transaction

from fleet.register_file import digest_of
from inspections.actions.bench import enter_reading
from inspections.errors import FileOvertaken
from inspections.models import ReadingFileMapping


@transaction.atomic
def enter_readings_of_file(step, entries, *, mapping, instrument, by, at):
    """Enter each Entry as one that was typed, and return how many were stored.

    mapping     where the columns of the file go; remembered for files with the same headers
    instrument  name of the instrument that wrote the file, which its like share; empty for one that is not known

    Raise FileOvertaken if a place holds another reading than its Entry says that it saw, ReadingRefused for what a
    place does not take, RecordFrozen if the inspection is not in progress. Then nothing is stored.
    """
    for entry in entries:
        entered = enter_reading(step, entry, by=by, at=at)
        if entered.is_contested:
            there = entered.contests
            raise FileOvertaken(
                f"{entry.slot.label}: {there.author} has entered {there} meanwhile. Nothing of the file was stored. "
                "This page shows what is there now; choose again."
            )
    ReadingFileMapping.objects.update_or_create(
        instrument=instrument,
        test_code=step.test_code,
        digest=digest_of(mapping.columns),
        defaults={"columns": mapping.as_json(), "decimal": mapping.decimal, "by": by, "said_at": at},
    )
    return len(entries)
