"""Collects what an action writes, and journals it before its transaction ends."""

import inspect
import sys
from contextlib import contextmanager, nullcontext
from contextvars import ContextVar
from functools import wraps

from django.db import DEFAULT_DB_ALIAS, connections, transaction

LIVE = "live"
HISTORY = "history"  # true while actions may be dated in the past, as in the demonstration
_scope = ContextVar("journal_scope", default=None)
_writing_history = 0
_journal = None
_renewals = []
_countings = []


class Scope:
    """One action with the rows that it wrote.

    written        model -> key -> state before the first write, None for a new row
    not_renewed    the same for what was written since what is derived from it was last renewed
    hidden         model -> keys of rows from which nothing is derived yet
    not_counted    the same as not_renewed for the numbers that are counted last
    counted        what these numbers counted of rows, for a scope that collects several actions: it does not know what
                   was before the second of them
    is_collecting  whether it is no action itself: each action within it ends as if there were none around it
    is_patient     whether what is derived waits for its reader, rather than being renewed at the end of each action
    """

    def __init__(self, name, *, by=None, at=None, using=DEFAULT_DB_ALIAS, is_collecting=False):
        self.name, self.by, self.at, self.using = name, by, at, using
        self.written, self.not_renewed, self.hidden, self.is_hiding = {}, {}, {}, False
        self.not_counted, self.counted = {}, {}
        self.is_collecting, self.is_patient, self.depth = is_collecting, False, 0

    def note(self, model, before):
        """Record that rows are written; `before` maps each key to the state before this write."""
        if self.is_hiding:
            self.hidden.setdefault(model, set()).update(before)
        elif model in self.hidden:
            self.hidden[model].difference_update(before)
        for rows in (self.written,) if self.is_hiding else (self.written, self.not_renewed, self.not_counted):
            known = rows.setdefault(model, {})
            for pk, state in before.items():
                known.setdefault(pk, state)

    def knows(self, model, pk):
        return pk in self.written.get(model, ())

    def take(self):
        """Return what was written so far, and reset."""
        written, self.written = self.written, {}
        return written

    def derived_from(self, written):
        """Return what was written without the rows from which nothing is derived yet."""
        hidden = {model: keys for model, keys in self.hidden.items() if keys}
        return written | {
            model: {pk: state for pk, state in written[model].items() if pk not in keys}
            for model, keys in hidden.items()
            if model in written
        }


def open_scope(using):
    """Return the scope of the open action on the database `using`, or None outside of actions."""
    scope = _scope.get()
    return scope if scope is not None and scope.using == using else None


@contextmanager
def acting(name, *, by=None, at=None, using=DEFAULT_DB_ALIAS):
    """Journal what the body writes, in its transaction. Within another action, that one journals it."""
    if (around := open_scope(using)) is not None:
        with _within(around):
            yield
        return
    scope = Scope(name, by=by, at=at, using=using)
    token = _scope.set(scope)
    try:
        with transaction_for(using):
            yield
            _write(scope)
    finally:
        _scope.reset(token)


@contextmanager
def _within(around):
    """Count an action inside another scope; in one that only collects, the outermost renews what is derived."""
    around.depth += 1
    try:
        yield
        if around.is_collecting and around.depth == 1 and not around.is_patient:
            renew_derived(around)
            _count(around)
    finally:
        around.depth -= 1


@contextmanager
def collecting(name):
    """Yield a scope that collects what the body writes without a transaction; `settle` journals it. For tests."""
    scope = Scope(name, is_collecting=True)
    token = _scope.set(scope)
    try:
        yield scope
    finally:
        _scope.reset(token)


@contextmanager
def outside_actions():
    """Within the body writes are not journaled, as in a shell."""
    token = _scope.set(None)
    try:
        yield
    finally:
        _scope.reset(token)


@contextmanager
def deriving_nothing(using=DEFAULT_DB_ALIAS):
    """Within the body rows are written of which no reader hears yet: they are journaled, and nothing else follows."""
    scope = open_scope(using)
    if scope is None or scope.is_hiding:
        yield
        return
    scope.is_hiding = True
    try:
        yield
    finally:
        scope.is_hiding = False


def settle(using=DEFAULT_DB_ALIAS):
    """Journal what the open action wrote so far."""
    scope = open_scope(using)
    if scope is not None:
        with transaction_for(using):
            _write(scope)


def transaction_for(using):
    """Open a transaction unless one is open; never a savepoint, which would cost two queries."""
    return nullcontext() if connections[using].in_atomic_block else transaction.atomic(using=using)


def hand_over_to(write):
    """Set the function that journals what an action wrote. The app sets it when it starts: it needs the models."""
    global _journal
    _journal = write


def renew_before_journal(renew):
    """Add a function of (written, using) that renews what is derived from written rows, at the end of an action."""
    _renewals.append(renew)


def count_before_journal(count):
    """Add a function of (written, using, counted) that counts anew what written rows touch, after all else."""
    _countings.append(count)


def renew_counted(scope):
    """Count anew for a reader, where no action is open. Return whether it was done.

    An action counts once, at its end: its numbers are rows that other actions wait for.
    """
    if not scope.is_collecting or scope.depth:
        return False
    renew_derived(scope)
    _count(scope)
    return True


def _count(scope):
    written, scope.not_counted = scope.not_counted, {}
    if written:
        with transaction_for(scope.using):
            for count in _countings:
                count(written, scope.using, scope.counted)


def renew_derived(scope):
    """Renew what is derived from what the action wrote since it was last renewed."""
    written, scope.not_renewed = scope.not_renewed, {}
    if written:
        with transaction_for(scope.using):
            for renew in _renewals:
                renew(written, scope.using)


def _write(scope):
    written = scope.take()
    # All of it again: a reader may have had it renewed in a part that was undone.
    scope.not_renewed = scope.derived_from(written)
    renew_derived(scope)
    _count(scope)
    if written:
        _journal(written, name=scope.name, by=scope.by, at=scope.at, mode=mode(), using=scope.using)


@contextmanager
def history():
    """Allow actions dated in the past within the body, for the whole process; their links and signatures say so."""
    global _writing_history
    _writing_history += 1
    try:
        yield
    finally:
        _writing_history -= 1


def mode():
    return HISTORY if _writing_history else LIVE


def journaled(function):
    """Return a function as an action whose writes are journaled under its name."""

    @wraps(function)
    def run(*args, **kwargs):
        by, at = kwargs.get("by"), kwargs.get("at")
        with acting(function.__name__, by=getattr(by, "pk", None), at=at):
            return function(*args, **kwargs)

    return run


def journal_actions(namespace, names, *, but=()):
    """Make every function of `namespace` in `names` an action, except those that write no covered row.

    The module of each function is patched as well, so that either import journals.
    """
    for name in set(names) - set(but):
        function = namespace[name]
        if inspect.isfunction(function):
            namespace[name] = journaled(function)
            setattr(sys.modules[function.__module__], name, namespace[name])
