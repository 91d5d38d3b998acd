"""Columns that several tables share."""

import django_tables2 as tables

FIX = {"td": {"class": "fix"}}
NUMBER = {"th": {"class": "num"}, "td": {"class": "num"}}


class DayColumn(tables.DateColumn):
    """A day, such as 2 Nov 2026 on the page; a date in a file."""

    def __init__(self, verbose_name=None, **options):
        super().__init__(verbose_name=verbose_name, **{"format": "j M Y", "attrs": FIX, **options})

    def value(self, **row):
        return row["value"]


class MomentColumn(tables.DateTimeColumn):
    """A date with a time on the page; both, with the time zone, in a file."""

    def __init__(self, verbose_name=None, **options):
        super().__init__(verbose_name=verbose_name, **{"format": "j M Y, H:i", "attrs": FIX, **options})

    def value(self, **row):
        return row["value"]


class ActionColumn(tables.Column):
    """Links or ticks of a row, with nothing for a file."""

    def __init__(self, verbose_name="", **options):
        super().__init__(
            verbose_name=verbose_name, empty_values=(), orderable=False, exclude_from_export=True, **options
        )
