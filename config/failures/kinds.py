"""Which errors mean that a service is down or busy, and which of them justify another try."""

import errno

import kombu.exceptions
from django.db import DatabaseError, InterfaceError, OperationalError

from config.failures.causes import causes_of
from fleet.late.services import redis

NO_ROOM = (errno.ENOSPC, errno.EDQUOT)
SQLITE_BUSY, SQLITE_LOCKED = 5, 6
# Serialization failure, deadlock, lock not available. Source: PostgreSQL 15 documentation, appendix A.
CONTENDED = ("40001", "40P01", "55P03")


def is_unavailable(error: BaseException | None) -> bool:
    """Return whether the database, the broker or the disk failed, rather than the program.

    A broken file of SQLite raises DatabaseError itself; its subclasses for wrong statements and values are defects of
    the program.
    """
    away = (OperationalError, InterfaceError, redis.RedisError, kombu.exceptions.OperationalError)
    return any(isinstance(one, away) or type(one) is DatabaseError or _has_no_room(one) for one in causes_of(error))


def is_contended(error: BaseException | None) -> bool:
    """Return whether another process held a lock, so that the same request may succeed a moment later."""
    return any(_is_locked(one) or getattr(one, "sqlstate", None) in CONTENDED for one in causes_of(error))


def _is_locked(error: BaseException) -> bool:
    # The low byte is the kind of error; the other bits give details, such as an outdated snapshot.
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (SQLITE_BUSY, SQLITE_LOCKED)


def _has_no_room(error: BaseException) -> bool:
    return isinstance(error, OSError) and error.errno in NO_ROOM
