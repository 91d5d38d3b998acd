"""Sessions in the database, which say so when the database is away.

Django takes any database error while a session is written for a session that was deleted meanwhile, and answers that
the request is bad. A form that is sent again after a moment is then the person's fault; it is not.
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
