"""Compare one entry of the chain with itself, its record and the current rows."""

import json
from dataclasses import dataclass

from inspections.chain.agreement import disagreements
from inspections.chain.entries import AMENDMENT_FIELDS, FORMAT, fields_of
from inspections.chain.moments import against_time
from inspections.chain.rows import AFTER_SIGNING, FROZEN, plain_value, read_retests, read_rows
from inspections.chain.trouble import Trouble, shown
from inspections.models import Amendment, ChainEntry, SignedRecord
from inspections.records.content import digest_of

COLUMNS = {
    "site": "site_id", "sequence": "sequence", "previous": "previous", "kind": "kind", "inspection": "inspection_id",
    "at": "at",
}  # fmt: skip


@dataclass(slots=True)
class Batch:
    """The current rows for a batch of entries, by number of the inspection or of the entry."""

    rows: dict
    retests: dict
    records: dict
    amendments: dict
    countersignatures: dict


def read_batch(entries, *, using="default"):
    """Read in a fixed number of queries all rows that the entries of a batch name."""
    signed = [entry.inspection_id for entry in entries if entry.kind == "signed"]
    layouts = _layouts(entries)
    countersigned = ChainEntry.objects.using(using).filter(inspection__in=signed, kind="countersigned")
    return Batch(
        rows={key: read_rows(key[0], signed, key[1], using=using) for key in layouts},
        retests=read_retests(signed, using=using),
        records={r.inspection_id: r for r in SignedRecord.objects.using(using).filter(inspection__in=signed)},
        amendments=Amendment.objects.using(using).in_bulk([e.amendment_id for e in entries if e.amendment_id]),
        countersignatures={entry.inspection_id: entry for entry in countersigned},
    )


def _layouts(entries):
    """The tables with the columns that these entries froze; entries of one release have the same."""
    found = set()
    for entry in entries:
        says = says_of(entry)
        if says and says["kind"] == "signed":
            found |= {(table, tuple(frozen["fields"])) for table, frozen in _frozen_tables(says).items()}
    return found


def _frozen_tables(says):
    """What a signature froze of each table; a table that came later froze no row, and has none now."""
    later = {table: {"fields": list(fields), "rows": []} for table, fields in FROZEN.items()}
    return later | {table: frozen for table, frozen in says["rows"].items() if table != "retests"}


def says_of(entry):
    """The content of an entry as data, or None if it is not what its digest was made of."""
    if "says" not in entry.__dict__:  # asked for several times, and long
        says = json.loads(entry.content) if digest_now(entry) == entry.digest else {}
        entry.says = says if says.get("format") == FORMAT else None
    return entry.says


def digest_now(entry):
    """The digest of what an entry of the chain holds now."""
    if "now" not in entry.__dict__:
        entry.now = digest_of(entry.content)
    return entry.now


def against_entry(site, entry, batch):
    """Yield what is not as the entry says: its own columns, and the record, amendment or rows that it froze."""
    report = _Report(site, entry)
    says = says_of(entry)
    if says is None:
        now = digest_now(entry)
        yield report("altered", f"{entry.kind} entry", "content", f"SHA-256 {entry.digest}", f"SHA-256 {now}")
        return
    report.inspection = says["inspection"]
    for name, column in COLUMNS.items():
        found = plain_value(getattr(entry, column))
        if found != says[name]:
            yield report("altered", f"{says['kind']} entry", column, says[name], found)
    if says["kind"] != "amended" and entry.amendment_id is not None:
        yield report("altered", f"{says['kind']} entry", "amendment_id", None, entry.amendment_id)
    yield from against_time(report, says)
    if says["kind"] == "signed":
        yield from _against_signature(report, says, batch)
    elif says["kind"] == "amended":
        yield from _against_amendment(report, says, entry, batch)


class _Report:
    def __init__(self, site, entry):
        self.site, self.sequence, self.inspection = site.code, entry.sequence, entry.inspection_id

    def __call__(self, kind, what, column="", expected="", found=""):
        values = (shown(expected), shown(found)) if column else ("", "")
        return Trouble(kind, self.site, what, column, *values, self.sequence, self.inspection)


def _against_signature(report, says, batch):
    yield from _against_record(report, says, batch.records.get(says["inspection"]))
    expected_after = _after_signing(batch.countersignatures.get(says["inspection"]))
    for table, frozen in _frozen_tables(says).items():
        fields = tuple(frozen["fields"])
        now = batch.rows.get((table, fields), {}).get(says["inspection"], [])
        expected = [
            _with_countersignature(row, fields, expected_after) if table == "inspection" else row
            for row in frozen["rows"]
        ]
        yield from _against_rows(report, table, fields, expected, now)
    found = batch.retests.get(says["inspection"], [])
    if found != says["rows"]["retests"]:
        yield report("altered", f"inspection {says['inspection']}", "retests", says["rows"]["retests"], found)


def _against_record(report, says, record):
    if record is None:
        yield report("removed", f"the record of inspection {says['inspection']}")
        return
    for column, expected in says["record"].items():
        found = plain_value(getattr(record, column))
        if found != expected:
            yield report("altered", "the record", column, expected, found)
    digest = digest_of(record.content)
    if digest == says["record"]["digest"] and not says.get("chained_later"):
        return
    if digest != says["record"]["digest"]:
        was = f"SHA-256 {says['record']['digest']}"
        yield report("altered", "the record", "content", was, f"SHA-256 {digest}")
    for what, column, in_record, in_rows in disagreements(record.content, says["rows"]):
        if digest == says["record"]["digest"]:
            yield report("altered", f"{what} before it was chained", column, in_record, in_rows)
        else:
            yield report("altered", f"the record, {what}", column, in_rows, in_record)


def _after_signing(entry):
    """What the columns hold that change after a signature; None if the countersignature cannot be relied on."""
    if entry is None:
        return {"stage": "signed", "countersigned_by_id": None, "countersigned_at": None}
    says = says_of(entry)
    if says is None:
        return None
    return {"stage": "countersigned"} | {name: says[name] for name in AFTER_SIGNING[1:]}


def _with_countersignature(row, fields, after):
    """The inspection as it was signed, with what came after; a value that cannot be relied on is left out."""
    values = dict(zip(fields, row, strict=True))
    after = after if after is not None else dict.fromkeys(AFTER_SIGNING, _ANYTHING)
    return [after.get(name, value) for name, value in values.items()]


class _Anything:
    def __eq__(self, other):
        return True

    __hash__ = None


_ANYTHING = _Anything()


def _against_rows(report, table, fields, expected, now):
    if expected == now:
        return
    before, after = ({row[0]: row for row in rows} for rows in (expected, now))
    for number, row in before.items():
        if number not in after:
            yield report("removed", f"{table} {number}{_told(table, fields, row)}")
            continue
        for field, was, found in zip(fields, row, after[number], strict=True):
            if was != found:
                yield report("altered", f"{table} {number}{_told(table, fields, row)}", field, was, found)
    for number, row in after.items():
        if number not in before:
            yield report("inserted", f"{table} {number}{_told(table, fields, row)}")


def _told(table, fields, row):
    """A few words for a person who does not know row numbers."""
    values = dict(zip(fields, row, strict=True))
    words = {
        "inspection": (),
        "step": ("code", "subject"),
        "reading": ("field", "row", "column", "as_read", "unit"),
        "outcome": ("label", "decision"),
        "remark": ("text",),
        "photograph": ("caption",),
        "question": ("asked", "answer"),
        "replacement": ("label", "fitted_serial"),
    }
    told = " ".join(str(values[name]) for name in words[table] if values.get(name) not in ("", None))
    return f" ({told})" if told else ""


def _against_amendment(report, says, entry, batch):
    expected = says["amendment"]
    what = f"amendment {expected['id']}"
    if entry.amendment_id != expected["id"]:
        yield report("altered", "amended entry", "amendment_id", expected["id"], entry.amendment_id)
        return
    amendment = batch.amendments.get(expected["id"])
    if amendment is None:
        yield report("removed", what)
        return
    for column, found in fields_of(amendment, AMENDMENT_FIELDS).items():
        if found != expected[column]:
            yield report("altered", what, column, expected[column], found)
