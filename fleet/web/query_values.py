"""Values in the query of an address: parsed in one place, and refused with a sentence if they are not valid.

A page that ignores a part of its address would mislead whoever follows the link. So a value that is not accepted ends
the request with status 400 and a page that names the value and what is accepted.
"""

import re

from django.core.paginator import EmptyPage, Paginator
from django.http import QueryDict
from django_tables2 import RequestConfig

from fleet.days import read_day
from fleet.errors import Refused

LAST_PAGE = 1_000_000
FEWEST_ROWS, MOST_ROWS = 10, 100
NUMBER = re.compile(r"[0-9]{1,7}")
EARLIER_NAMES = {"duty": "status", "maker": "manufacturer", "outcome": "result"}


class QueryRefused(Refused):
    """A value in the query of an address that is not accepted."""


def with_present_names(query):
    """Return the query of an address with the present names of its values; people keep addresses."""
    values = dict(query.lists())
    if {*values, *(one.removeprefix("-") for one in values.get("sort", ()))}.isdisjoint(EARLIER_NAMES):
        return query
    present = QueryDict(mutable=True)
    for name, values in query.lists():
        values = [_present_name(value) for value in values] if name == "sort" else values
        present.setlist(_present_name(name), values)
    return present


def _present_name(text):
    sign, name = ("-", text[1:]) if text.startswith("-") else ("", text)
    return sign + EARLIER_NAMES.get(name, name)


def day_asked(request, name, default):
    """Return the day in the address, or `default` if there is none."""
    text = request.GET.get(name, "")
    if not text:
        return default
    try:
        return read_day(text)
    except ValueError as error:
        raise QueryRefused(f"{name}: {error}") from None


def number_asked(request, name, default, *, low=1, high=LAST_PAGE):
    """Return the whole number in the address, or `default` if there is none."""
    text = request.GET.get(name, "")
    if not text:
        return default
    if not NUMBER.fullmatch(text) or not low <= int(text) <= high:
        raise QueryRefused(f"{name}: “{text[:40]}” is not accepted. Enter a whole number from {low} to {high}.")
    return int(text)


def choice_asked(request, name, accepted, default=None):
    """Return the value in the address, one of `accepted`, or `default` if there is none."""
    text = request.GET.get(name, "")
    if not text:
        return default
    if text not in accepted:
        raise QueryRefused(f"{name}: “{text[:40]}” is not accepted. Accepted: {', '.join(map(str, accepted))}.")
    return text


def page_asked(request, rows, per_page):
    """Return the page of `rows` that the address names; `rows` may be a Paginator."""
    paginator = rows if isinstance(rows, Paginator) else Paginator(rows, per_page)
    number = number_asked(request, "page", 1)
    try:
        return paginator.page(number)
    except EmptyPage:
        raise QueryRefused(_no_such_page(number, paginator.num_pages)) from None


def show_page(request, table, per_page):
    """Sort and page `table` by the values in the address."""
    _check_sorting(request, table)
    number_asked(request, table.prefixed_per_page_field, per_page, low=FEWEST_ROWS, high=MOST_ROWS)
    number = number_asked(request, table.prefixed_page_field, 1)
    try:
        RequestConfig(request, paginate={"per_page": per_page, "silent": False}).configure(table)
    except EmptyPage:
        raise QueryRefused(_no_such_page(number, table.paginator.num_pages)) from None


def sort_all(request, table):
    """Sort `table` by the value in the address and show all its rows, for a file."""
    _check_sorting(request, table)
    RequestConfig(request, paginate=False).configure(table)


def accepted_fields(form):
    """Return the values of a form for the query. Raises QueryRefused that names every value that is not accepted."""
    if form.is_valid():
        return form.cleaned_data
    raise QueryRefused(" ".join(_sentences(form)))


def _check_sorting(request, table):
    accepted = [column.name for column in table.columns.all() if column.orderable]
    for asked in request.GET.getlist(table.prefixed_order_by_field):
        if asked and asked.removeprefix("-") not in accepted:
            raise QueryRefused(f"sort: “{asked[:40]}” is not accepted. Accepted: {', '.join(accepted)}.")


def _no_such_page(number, last):
    pages = "1 page" if last == 1 else f"{last} pages"
    return f"page: there is no page {number}; the list has {pages}."


def _sentences(form):
    for name, errors in form.errors.items():
        label = form[name].label if name in form.fields else "The request"
        value = str(form.data.get(name, ""))[:40]
        yield f"{label}: “{value}” is not accepted. {' '.join(errors)}"
