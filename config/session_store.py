"""Sessions in the database, which raise the database error when the database is down.

Django treats any database error while a session is written as a session that was deleted meanwhile, and answers 400.
That would blame the person for a fault of the database, instead of offering to send the form again.
"""

from django.contrib.sessions.backends import db
from django.contrib.sessions.backends.base import UpdateError
from django.db import InterfaceError, OperationalError


class SessionStore(db.SessionStore):
    def save(self, must_create=False):
        try:
            super().save(must_create)
        except UpdateError as error:
            if isinstance(error.__context__, OperationalError | InterfaceError):
                raise error.__context__ from None
            raise
