"""How SQLite would run the queries of a page: which of them read a whole table.

SQLite plans by the statement and the indexes alone as long as it has no statistics, which Bobbin never makes (a test
holds that): a store of 100,000 machines has the plans of an empty one. PostgreSQL plans by the size of the tables.
"""

import re

from django.db import connection

# Tables that grow with machines, work or years.
LARGE = {
    "fleet_areaperiod", "fleet_awayperiod", "fleet_changeentry", "fleet_component", "fleet_currentstate",
    "fleet_dutychange", "fleet_earlierinspection", "fleet_featurestate", "fleet_journalentry", "fleet_journallink",
    "fleet_machine", "fleet_machinecover", "inspections_amendment", "inspections_attachment", "inspections_attempt",
    "inspections_chainentry", "inspections_completion", "inspections_faultreport", "inspections_finding",
    "inspections_inspection", "inspections_inspectionstep", "inspections_keptduedate", "inspections_keptreview",
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


def _how(sql, lines):
    if any(line == "USE TEMP B-TREE FOR ORDER BY" for line in lines):
        return "sort"
    return "walk" if " LIMIT " in sql else "count"
