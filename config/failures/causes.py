"""The chain of causes of an error. A module of its own, because settings import it."""

from collections.abc import Iterator


def causes_of(error: BaseException | None) -> Iterator[BaseException]:
    """Yield an error, then its causes."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
