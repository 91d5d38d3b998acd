"""Many keys as conditions of a few queries."""

AT_ONCE = 2000


def conditions_on(path, keys):
    """Yield keyword arguments of filter() which together select the rows whose `path` is one of the whole numbers.

    Rows that were inserted together have keys in a row: their first and last say the same as a list, which would be
    checked, prepared and sent key by key.
    """
    keys = sorted(keys)
    for first in range(0, len(keys), AT_ONCE):
        some = keys[first : first + AT_ONCE]
        if some[-1] - some[0] == len(some) - 1:
            yield {f"{path}__gte": some[0], f"{path}__lte": some[-1]}
        else:
            yield {f"{path}__in": some}
