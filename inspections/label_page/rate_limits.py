"""How often one network address may use the pages of labels. What one machine accepts, the actions count themselves.

A ward shares one address, so the limits are those of a large hospital at the hour of its checks. The counts are in the
cache: with REDIS_URL one count for all processes, else one for each. If the cache is down everything is accepted up to
the limits of each machine, which are counted in the database.
"""

import logging
import time
from dataclasses import dataclass

from django.core.cache import cache

from fleet.late.services import redis
from fleet.web.client_address import address_sign

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `most` in each period of `seconds`, which begin at whole multiples of their length."""

    name: str
    most: int
    seconds: int

    def left_of_period(self, now: float) -> int:
        """Return the seconds until the next period."""
        return max(1, round(self.seconds - now % self.seconds))


PAGES = Limit("pages", 1200, 600)
UNKNOWN = Limit("unknown codes", 60, 600)
SENT = Limit("sent forms", 200, 600)
REPORTS = Limit("fault reports", 20, 3600)
PICTURES = Limit("large bodies", 20, 3600)


def count(limit: Limit, address: str) -> int:
    """Count one use. Return 0 while it is within the limit, else the seconds until the next period."""
    now = time.time()
    return limit.left_of_period(now) if _add(_key(limit, address, now), limit) > limit.most else 0


def exhausted(limit: Limit, address: str) -> int:
    """Return the seconds until the next period if the limit is used up, else 0; count nothing."""
    now = time.time()
    try:
        used = cache.get(_key(limit, address, now), 0)
    except redis.RedisError:
        log.exception("The uses of label pages cannot be counted.")
        return 0
    return limit.left_of_period(now) if used >= limit.most else 0


def _key(limit, address, now):
    return f"label-page {limit.name} {int(now // limit.seconds)} {address_sign(address)}".replace(" ", "-")


def _add(key, limit):
    try:
        cache.add(key, 0, limit.seconds)
        return cache.incr(key)
    except ValueError:  # the entry was removed between the two, since the cache was full
        return 1
    except redis.RedisError:
        log.exception("The uses of label pages cannot be counted.")
        return 0
