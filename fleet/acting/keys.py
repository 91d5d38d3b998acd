"""Many keys as conditions of a few queries."""

AT_ONCE = 2000


def conditions_on(path, keys):
    """Yield keyword arguments of filter() which together select the rows whose `path` is one of the whole numbers."""
    keys = sorted(keys)
    for first in range(0, len(keys), AT_ONCE):
        yield only_condition(path, keys[first : first + AT_ONCE])


def only_condition(path, keys):
    """Return keyword arguments of filter() which select the rows whose `path` is one of these numbers, smallest first.

    Rows that were inserted together have keys in a row: their first and last say the same as a list, which would be
    checked, prepared and sent key by key.
    """
    if keys and keys[-1] - keys[0] == len(keys) - 1:
        return {f"{path}__gte": keys[0], f"{path}__lte": keys[-1]}
    return {f"{path}__in": keys}
