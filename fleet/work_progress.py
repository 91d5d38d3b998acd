"""How a function that takes long reports its progress. Plain Python."""

from collections.abc import Callable

Tell = Callable[[int, int, str], None]  # called with what is done, the total, and what is being done in words


def tell_nobody(done, total, words):
    """Report nothing: the default where nobody watches."""
