"""Codes for new rows, made of their names."""

from django.utils.text import slugify

ROOM = 4  # letters for a number behind the name


def free_code(model, name, longest):
    """Return a code for a new row of `model` that no row has, made of its name."""
    start = slugify(name)[:longest].strip("-") or "new"
    stem = start[: longest - ROOM].strip("-")
    taken = set(model.objects.filter(code__startswith=stem).values_list("code", flat=True))
    numbered = (f"{stem}-{number}" for number in range(2, len(taken) + 3))
    return next(code for code in (start, *numbered) if code not in taken)
