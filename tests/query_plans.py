"""How the database would run the queries of a page: which of them read a whole table.

SQLite plans by the statement and the indexes alone as long as it has no statistics, which Bobbin never makes (a test
holds that): a store of 100,000 machines has the plans of an empty one.

PostgreSQL plans by the size of the tables, and those of a test are too small for any index. It is asked with
sequential scans forbidden (`enable_seqscan`): it then takes an index wherever one can serve, so that what it still
reads from end to end has none at any size. Whether it prefers the index in a large store is for bench_lists to time.
"""

import json
import re

from django.db import connection, transaction

# Tables that grow with machines, work or years.
LARGE = {
    "fleet_areaperiod", "fleet_awayperiod", "fleet_changeentry", "fleet_component", "fleet_currentstate",
    "fleet_dutychange", "fleet_earlierinspection", "fleet_featurestate", "fleet_journalentry", "fleet_journallink",
    "fleet_machine", "fleet_machinecover", "inspections_amendment", "inspections_attachment", "inspections_attempt",
    "inspections_chainentry", "inspections_completion", "inspections_faultreport", "inspections_finding",
    "inspections_inspection", "inspections_inspectionstep", "inspections_keptcount",
    "inspections_keptduedate", "inspections_keptreview",
    "inspections_noticeitem", "inspections_outcome", "inspections_photograph", "inspections_reading",
    "inspections_readingquestion", "inspections_replacement", "inspections_signedrecord", "inspections_trendforecast",
    "inspections_usercheck",
}  # fmt: skip
NAMED = re.compile(r'(?:FROM|JOIN) "(\w+)"(?: ([A-Z]\d+)\b)?')
SCAN = re.compile(r"SCAN (\w+)(?: USING (?:COVERING )?INDEX (\w+))?")


def asked(client, address, **headers):
    """Return the statements of a page with their values, each statement once. AssertionError for a refusal."""
    found = {}

    def note(execute, sql, params, many, context):
        found[sql] = params
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        response = client.get(address, headers=headers)
    assert response.status_code == 200, f"{address}: {response.status_code}"
    return found


def whole_reads(statements):
    """Return the large tables that statements read from end to end, as (table, index, how).

    index  its name for a walk; else “an index”, since SQLite takes any that holds the columns, or empty for the table
    how    “walk” where the rows come in the order of the index and a limit ends it, “sort” or “count” elsewhere
    """
    found = set()
    for sql, params in statements.items():
        if not sql.startswith("SELECT"):
            continue
        tables = {alias or table: table for table, alias in NAMED.findall(sql)}
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
            lines = [row[3] for row in cursor.fetchall()]
        for line in lines:
            if (scan := SCAN.match(line)) and (table := tables.get(scan[1])) in LARGE:
                how = _how(sql, lines)
                found.add((table, scan[2] and (scan[2] if how == "walk" else "an index") or "", how))
    return found


def tables_read_whole(statements):
    """Return the large tables that statements read from end to end, on either database.

    On PostgreSQL without those of which a partial index holds the few rows that are read.
    """
    if connection.vendor == "sqlite":
        return {table for table, _, _ in whole_reads(statements)}
    found = set()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT indexrelid::regclass::text, pg_get_indexdef(indexrelid, 1, true), indpred IS NOT NULL FROM pg_index"
        )
        first = {name: "" if is_partial else column for name, column, is_partial in cursor.fetchall()}
        cursor.execute("SET LOCAL enable_seqscan = off")
        for sql, params in statements.items():
            if sql.startswith(("SELECT", "(SELECT")):
                cursor.execute(f"EXPLAIN (FORMAT JSON) {sql}", params)
                (plan,) = cursor.fetchone()
                (plan,) = json.loads(plan) if isinstance(plan, str) else plan
                found |= set(_whole(plan["Plan"], first))
        cursor.execute("SET LOCAL enable_seqscan = on")
    return found & LARGE


def _whole(node, first):
    """Yield the tables that a node of a plan, or one below it, reads without a condition on an index's first column.

    first  that column by index; empty for a partial index, which may be read as it is
    """
    if node["Node Type"] == "Bitmap Heap Scan":
        read = [one for one in _leaves(node) if "Index Name" in one]
    else:
        read = [node] if node["Node Type"] in ("Seq Scan", "Index Scan", "Index Only Scan") else []
    if not all(_is_narrowed(one, first) for one in read):
        yield node["Relation Name"]
    for one in node.get("Plans", ()):
        yield from _whole(one, first)


def _is_narrowed(node, first):
    index, asked_of = node.get("Index Name"), node.get("Index Cond", "")
    return index is not None and (not first[index] or re.search(rf"\b{first[index]}\b", asked_of) is not None)


def _leaves(node):
    for one in node.get("Plans", ()):
        yield from _leaves(one) if one.get("Plans") else [one]


def _how(sql, lines):
    if any(line == "USE TEMP B-TREE FOR ORDER BY" for line in lines):
        return "sort"
    return "walk" if " LIMIT " in sql else "count"
