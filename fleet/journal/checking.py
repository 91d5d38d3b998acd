"""Verify the links of the journal: each against the one before, its entries and its time, in bounded memory."""

import json
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef
from django.utils import timezone

from fleet.acting.rows import plain_value
from fleet.acting.scope import LIVE
from fleet.canonical import digest_of
from fleet.journal.difference import Difference
from fleet.journal.writing import ENTRY, FIRST, FORMAT, MOST_ENTRIES, digest_of_entries
from fleet.models import JournalEntry, JournalHead, JournalLink

AT_ONCE = 5000  # entries read at once; most links have few, one has at most MOST_ENTRIES
MOST_LINKS = 200
CLOCK_SKEW = timedelta(minutes=5)
LONGEST_ACTION = timedelta(days=1)  # between the time that an action states and its end; background jobs take hours
SAID = {"sequence", "batch", "previous", "recorded_at", "entries", "sha256", "action", "at", "mode"}
COLUMNS = ("sequence", "batch", "previous", "recorded_at")


class Walk:
    """Reads the links in order. `links` and `entries` count."""

    def __init__(self, using):
        self.using = using
        self.links, self.entries = 0, 0
        self.number, self.digests, self.newest = 0, {FIRST}, None

    def run(self):
        """Yield a Difference for everything that has changed since it was written."""
        links = JournalLink.objects.using(self.using).order_by("sequence").iterator(MOST_LINKS)
        for batch in _in_batches(links):
            entries = self._entries_of(link for link, _ in batch)
            for link, says in batch:
                yield from self._step(link)
                yield from self._against_content(link, says, entries.get(link.batch, []))
        yield from self._against_head(JournalHead.objects.using(self.using).first())
        yield from self._strays()

    def _entries_of(self, links):
        found = {}
        entries = JournalEntry.objects.using(self.using).filter(batch__in=[link.batch for link in links])
        for entry in entries.order_by("batch", "position").values_list(*ENTRY, named=True):
            found.setdefault(entry.batch, []).append(entry)
        return found

    def _step(self, link):
        yield from self._gap(link.sequence)
        if self.digests and link.previous not in self.digests:
            yield Difference(
                "altered", str(link), column="previous", expected=min(self.digests), found=link.previous,
                link=link.sequence,
            )  # fmt: skip
        if link.recorded_at > timezone.now() + CLOCK_SKEW:
            yield Difference(
                "time", f"{link} is of the future", column="recorded_at", expected=plain_value(timezone.now()),
                found=plain_value(link.recorded_at), link=link.sequence,
            )  # fmt: skip
        if self.newest is not None and link.recorded_at < self.newest.recorded_at - CLOCK_SKEW:
            yield Difference(
                "time", f"{link} runs backwards", column="recorded_at",
                expected=f"{plain_value(self.newest.recorded_at)} or later", found=plain_value(link.recorded_at),
                link=link.sequence,
            )  # fmt: skip
        self.number, self.newest = link.sequence, link
        self.digests = {link.digest, digest_of(link.content)}
        self.links += 1

    def _gap(self, sequence):
        first, last = self.number + 1, sequence - 1
        if first <= last:
            self.digests = set()
            words = f"link {first}" if first == last else f"links {first} to {last}"
            yield Difference("removed", f"{words} of the journal", link=first)

    def _against_content(self, link, says, entries):
        self.entries += len(entries)
        if says is None:
            yield self._altered(link, "content", f"SHA-256 {link.digest}", f"SHA-256 {digest_of(link.content)}")
            return
        for column in COLUMNS:
            if plain_value(getattr(link, column)) != says[column]:
                yield self._altered(link, column, says[column], plain_value(getattr(link, column)))
        yield from self._against_entries(link, says, entries)
        yield from _time(link, says)
        for one in says.get("altered_before", ()):
            what = f"{one['table']} {one['row']} before {says['action']}"
            yield Difference(what=what, link=link.sequence, **one)

    def _altered(self, link, column, expected, found):
        return Difference("altered", str(link), column=column, expected=expected, found=found, link=link.sequence)

    def _against_entries(self, link, says, entries):
        positions = {entry.position for entry in entries}
        for position in range(1, says["entries"] + 1):
            if position not in positions:
                yield Difference("removed", f"entry {position} of link {link.sequence}", link=link.sequence)
        for entry in entries:
            if entry.position > says["entries"]:
                yield Difference("inserted", f"entry {entry.position} of link {link.sequence}", link=link.sequence)
        digest = digest_of_entries(entries)
        if len(entries) == says["entries"] and digest != says["sha256"]:
            yield self._altered(link, "entries", f"SHA-256 {says['sha256']}", f"SHA-256 {digest}")

    def _against_head(self, head):
        if head is None:
            if self.newest is not None:
                yield Difference("removed", "the head of the journal")
            return
        yield from self._gap(head.sequence + 1)
        newest = self.newest
        said = (self.number, newest and newest.digest, newest and newest.recorded_at)
        for column, expected in zip(("sequence", "digest", "recorded_at"), said, strict=True):
            found = getattr(head, column)
            if newest is not None and head.sequence <= self.number and found != expected:
                yield Difference(
                    "altered", "the head of the journal", column=column, expected=plain_value(expected),
                    found=plain_value(found),
                )  # fmt: skip

    def _strays(self):
        """Yield a Difference for entries without a link: inserted, or their link was removed."""
        links = JournalLink.objects.using(self.using).filter(batch=OuterRef("batch"))
        for entry in JournalEntry.objects.using(self.using).filter(~Exists(links)).order_by("pk").iterator(500):
            yield Difference("inserted", f"an entry of no link about {entry}", table=entry.table, row=entry.row)


def _in_batches(links):
    """Yield lists of links, each with its content as `_says_of` returns it, whose entries are read at once."""
    batch, entries = [], 0
    for link in links:
        batch.append((link, says := _says_of(link)))
        entries += says["entries"] if says else MOST_ENTRIES
        if entries > AT_ONCE or len(batch) == MOST_LINKS:
            yield batch
            batch, entries = [], 0
    if batch:
        yield batch


def _says_of(link):
    """Return the content of a link as data, or None if it does not match its digest or is no valid content."""
    try:
        says = json.loads(link.content) if digest_of(link.content) == link.digest else {}
    except ValueError:
        return None
    return says if isinstance(says, dict) and says.get("format") == FORMAT and says.keys() >= SAID else None


def _time(link, says):
    """Compare the time that an action stated with the clock of the server when it was journaled."""
    if says["mode"] != LIVE or not says["at"]:
        return
    stated = datetime.fromisoformat(says["at"])
    if not link.recorded_at - LONGEST_ACTION <= stated <= link.recorded_at + CLOCK_SKEW:
        yield Difference(
            "time", f"{says['action']} was dated otherwise than it was done", column="at",
            expected=plain_value(link.recorded_at), found=says["at"], link=link.sequence,
        )  # fmt: skip
