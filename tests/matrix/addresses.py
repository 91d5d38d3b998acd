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
    return list(_walk(get_resolver().url_patterns, "", ""))


def _walk(patterns, prefix, namespace):
    for one in patterns:
        route = prefix + str(one.pattern)
        if hasattr(one, "url_patterns"):
            yield from _walk(one.url_patterns, route, f"{one.namespace}:" if one.namespace else namespace)
        else:
            yield Address(namespace + one.name, route)
