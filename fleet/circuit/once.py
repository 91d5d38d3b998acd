"""An attribute that is computed when it is first asked for, and stored."""

from collections.abc import Callable


class once:  # named like a decorator  # noqa: N801
    """Like functools.cached_property, without the lock that Python 3.11 takes for each first value.

    A cover table asks some ten thousand of them, all in one thread.
    """

    def __init__(self, find: Callable):
        self._find = find
        self.__doc__ = find.__doc__

    def __set_name__(self, owner: type, name: str):
        self._name = name

    def __get__(self, instance, owner: type | None = None):
        if instance is None:
            return self
        found = instance.__dict__[self._name] = self._find(instance)
        return found
