"""Every address that Bobbin answers at, walked from its own list."""

from dataclasses import dataclass

from django.urls import get_resolver


@dataclass(frozen=True)
class Address:
    """name  as reversed, such as "fleet:machine";  route  as written, such as "machines/<int:pk>/" """

    name: str
    route: str

    @property
    def is_api(self):
        return self.name.startswith("api:")

    @property
    def is_of_an_object(self):
        return "<int:pk>" in self.route


def all_addresses():
    """Return all but the addresses of earlier versions, which lead to one of these; they have a test of their own."""
    return [
        address for address in _walk(get_resolver().url_patterns, "", "") if not address.name.startswith("earlier:")
    ]


def _walk(patterns, prefix, namespace):
    for one in patterns:
        route = prefix + str(one.pattern)
        if hasattr(one, "url_patterns"):
            yield from _walk(one.url_patterns, route, f"{one.namespace}:" if one.namespace else namespace)
        else:
            yield Address(namespace + one.name, route)
