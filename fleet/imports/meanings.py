"""What values of files mean, as people answered, for the reader of files."""

from fleet.models import ValueMeaning
from fleet.register_file import Meanings
from fleet.register_file.spellings import plain


def meanings_of(kind):
    """Return the Meanings for one kind of file. What was said of another kind counts where nothing was said of this."""
    entries = {}
    rows = ValueMeaning.objects.of_kind(kind).select_related("site")
    for row in rows:
        within = [plain(row.site.code), plain(row.site.name)] if row.site else [""]
        entries |= {(row.column, name, row.written): None if row.is_right else row.meaning for name in within}
    return Meanings(entries)
