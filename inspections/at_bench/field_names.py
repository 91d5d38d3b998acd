"""How the bench form names its fields. No other module knows how these names are written.

A place is named by its keys: “set_flow”, or “falling.0.pressure” in a table. Its unit, its zero, its instrument, the
instrument that the page proposed and the reading that it showed are fields of their own, such as “set_flow:unit”. The
settings above a column, which hold for its next readings, have a star in place of the row: “falling.*.pressure:unit”.
On a page of several steps the key of the step comes first: “s4004.seen”.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FieldNames:
    """The names of the fields of one place, or of the settings above a column, ready for a template."""

    value: str

    @property
    def unit(self):
        return f"{self.value}:unit"

    @property
    def zero(self):
        return f"{self.value}:zero"

    @property
    def instrument(self):
        return f"{self.value}:instrument"

    @property
    def proposed(self):
        """The field that holds the key of the instrument that the page proposed."""
        return f"{self.value}:proposed"

    @property
    def seen(self):
        """The field that holds the key of the reading that the page showed."""
        return f"{self.value}:kept"

    @property
    def settings(self):
        """The names of the settings by what they set."""
        return {"unit": self.unit, "zero": self.zero, "instrument": self.instrument}

    @property
    def id(self):
        """The id of the place in the page."""
        return self.value.replace(".", "-")


def place_names(field, row=0, column=""):
    """Return the names of the place with these keys."""
    return FieldNames(f"{field}.{row}.{column}" if column else field)


def column_names(field, column):
    """Return the names of the settings above a column."""
    return FieldNames(f"{field}.*.{column}")


def names_of_step(step_pk, names):
    """Return the names of a place of one step on a page of several."""
    return FieldNames(f"s{step_pk}.{names.value}")


def sent_of_step(data, step_pk):
    """Return what a form of several steps holds of one, under the names that the step alone has."""
    start = f"s{step_pk}."
    return {name.removeprefix(start): value for name, value in data.items() if name.startswith(start)}


def read_place_name(name):
    """Return the keys (field, row, column) of the place that is called `name`. Raise ValueError if none can be."""
    field, *rest = name.split(".")
    if not rest and _is_key(field):
        return field, 0, ""
    if len(rest) == 2 and _is_key(field) and _is_key(rest[1]) and _is_row(rest[0]):
        return field, int(rest[0]), rest[1]
    raise ValueError(f"“{name}” is not the name of a place")


def _is_key(text):
    return bool(text) and not set(text) & set(".:*")


def _is_row(text):
    return text.isascii() and text.isdigit() and len(text) < 6 and text == str(int(text))
