"""Examples of one property that leave nothing in the database, so that the last does not search the rows of all."""

from functools import wraps

from django.db import transaction


def rolled_back(example):
    """Run each example of a property in a transaction of its own that is rolled back; put it below `@given`."""

    @wraps(example)
    def run(*args, **kwargs):
        with transaction.atomic():
            example(*args, **kwargs)
            transaction.set_rollback(True)

    return run
