"""Pages of a list, and its order."""

from typing import Any, Literal
from urllib.parse import urlencode

from ninja import Field, Schema
from ninja.pagination import PaginationBase
from ninja.pagination import paginate as library_paginate

LARGEST_PAGE = 100
LAST_PAGE = 1_000_000


class Paged(PaginationBase):
    """By page number. A page behind the last one is empty."""

    class Input(Schema):
        page: int = Field(1, ge=1, le=LAST_PAGE, description="Page number, from 1.")
        page_size: int = Field(25, ge=1, le=LARGEST_PAGE, description="Rows per page.")

    class Output(Schema):
        items: list[Any]
        count: int = Field(description="Total number of rows.")
        page: int
        page_size: int
        next: str | None = Field(description="Address of the next page; null on the last page.")
        previous: str | None = Field(description="Address of the previous page; null on the first page.")

    def paginate_queryset(self, queryset, pagination, request, **params):
        page, size = pagination.page, pagination.page_size
        count, first = self._items_count(queryset), (page - 1) * size
        last = max(1, -(-count // size))
        return {
            "items": list(queryset[first : first + size]),
            "count": count,
            "page": page,
            "page_size": size,
            "next": _address(request, page + 1) if page < last else None,
            "previous": _address(request, min(page - 1, last)) if page > 1 else None,
        }


def paged(view):
    """Return the decorator that answers a list page by page."""
    return library_paginate(Paged)(view)


def order_choice(*names):
    """Return the type of an `order` parameter: a name sorts ascending, with a minus before it descending."""
    return Literal[tuple(f"{sign}{name}" for name in names for sign in ("", "-"))]


def ordered(rows, order, paths=None):
    """Sort by `order`; equal rows by primary key, so that no row is on two pages. `paths` names other columns."""
    name = order.removeprefix("-")
    return rows.order_by(order.replace(name, (paths or {}).get(name, name)), "pk")


def _address(request, page):
    query = {**request.GET.dict(), "page": page}
    return request.build_absolute_uri(f"{request.path}?{urlencode(query)}")
