"""Rows that every test of a module finds: made once, in a transaction around those of the tests."""

from contextlib import contextmanager
from copy import deepcopy

from django.db import connection, transaction

from fleet.acting.scope import collecting, history, settle


@contextmanager
def rows_of_module(request, make):
    """Yield a function that returns a copy of what `make` returned, whose rows last until the end of the module.

    For a fixture of scope `module`. The fixture of the tests asks for it and for `db`, and returns a copy: what a test
    does to rows is rolled back as always, what it does to its copy stays with it. A module with such rows has no test
    that commits. They are journaled, as what an action wrote.
    """
    request.getfixturevalue("django_db_setup")
    blocker = request.getfixturevalue("django_db_blocker")
    around = transaction.atomic()
    with blocker.unblock():
        around.__enter__()
    try:
        with blocker.unblock(), history(), collecting("test"):
            made = make()
            settle()
            connection.check_constraints()  # which also leaves none to be checked, so that a test can alter a table
        yield lambda: deepcopy(made)
    finally:
        with blocker.unblock():
            transaction.set_rollback(True)
            around.__exit__(None, None, None)
