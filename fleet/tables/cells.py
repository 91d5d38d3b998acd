"""The markup of table cells. Every pattern is a constant; every value is escaped as it is put into one."""

from functools import lru_cache

from django.utils.text import slugify

from fleet.drawing.marks import mark_name
from fleet.web.markup import format_html, format_html_join


def link(url, words, *, hidden=""):
    """A link; `hidden` is for screen readers, after the text."""
    if hidden:
        return format_html('<a href="{}">{}<span class="vh"> {}</span></a>', url, words, hidden)
    return format_html('<a href="{}">{}</a>', url, words)


def actions(*each):
    """A cell of small buttons, each (address, words, hidden words for screen readers)."""
    links = format_html_join(" ", '<a class="button small" href="{}">{}<span class="vh"> {}</span></a>', each)
    return format_html('<div class="buttons">{}</div>', links)


def with_note(first, note):
    """A cell of two lines, the second one small."""
    return format_html('{}<br><span class="note">{}</span>', first, note)


def with_alarm(first, words):
    """A cell of two lines, the second one in the alarm colour."""
    return format_html('{}<br><span class="alarm">{}</span>', first, words)


def two_lines(first, second):
    return format_html("{}<br>{}", first, second)


def figure(value):
    """A value in tabular numerals."""
    return format_html('<span class="num">{}</span>', value)


def quiet(words):
    return format_html('<span class="quiet">{}</span>', words)


def strong(words):
    return format_html("<b>{}</b>", words)


def for_readers(words):
    """Text for screen readers only."""
    return format_html('<span class="vh">{}</span>', words)


def mark(word, look="", *, hidden=""):
    """The drawn mark of a state with its word, as in bobbin/mark.html; `look` if it is not the word's own."""
    look = look or _look_of(str(word))
    if hidden:
        return format_html('<span class="mark mark-{}">{}<span class="vh"> {}</span></span>', look, word, hidden)
    return format_html('<span class="mark mark-{}">{}</span>', look, word)


@lru_cache(maxsize=256)
def _look_of(word):
    return slugify(mark_name(word))


def counted(names):
    """The number in the alarm colour, and the names."""
    listed = format_html_join("; ", "{}", ((name,) for name in names))
    return format_html('<b class="alarm">{}</b> <span class="note">{}</span>', len(names), listed)


def number_row(head, cells):
    """A row of a table of numbers below a heading of its own."""
    numbers = format_html_join("", '<td class="num">{}</td>', ((cell,) for cell in cells))
    return format_html('<tr><th scope="row">{}</th>{}</tr>', head, numbers)


def in_rows(rows):
    return format_html_join("\n", "{}", ((row,) for row in rows))


def abbreviations(pairs, look):
    """Abbreviations with their meaning as a tooltip; pairs are (short, meaning)."""
    cells = format_html_join(" ", '<abbr title="{}">{}</abbr>', ((meaning, short) for short, meaning in pairs))
    return format_html('<span class="{}">{}</span>', look, cells)


def tick(form, name, value, words):
    """A check box that selects this row for the form with the id `form`."""
    return format_html(
        '<input type="checkbox" form="{}" name="{}" value="{}" aria-label="{}">', form, name, value, words
    )
