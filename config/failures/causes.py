"""An error and what it followed from. Apart from the rest, since settings import it."""

from collections.abc import Iterator


def causes_of(error: BaseException | None) -> Iterator[BaseException]:
    """Yield an error and what it followed from."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
