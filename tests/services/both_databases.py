"""The rule by which PostgreSQL repeats a test, or leaves it to SQLite.

What depends on the database are statements, constraints, locks and transactions. So PostgreSQL repeats every test of a
room that asks or writes records, and of every list, search and committed transaction. It leaves to SQLite the rooms
that show, parse and judge what those read. Their pages are asked there nevertheless: `test_hostile_text.py` requests
every address with rows in every table and values as long as their columns, `test_query_values.py` every query with
values of all kinds, `test_matrix.py` and `test_tables.py` every address and list, `test_changes.py` runs every action.
"""

from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
LEFT_TO_SQLITE = (
    "config/accounts", "config/api", "config/failures", "config/help", "config/offline", "config/serving",
    "fleet/api", "fleet/people", "fleet/test_characters.py", "fleet/views", "fleet/web",
    "inspections/api", "inspections/at_bench", "inspections/deciding", "inspections/device_book",
    "inspections/label_page", "inspections/on_machine_page", "inspections/pictures", "inspections/reports",
    "inspections/views",
)  # fmt: skip
# Of those rooms, the tests of lists: search, filter, order and pages of rows are statements of their own.
LISTS = (
    "fleet/views/test_lists.py", "fleet/views/test_machines.py", "inspections/views/test_attempts.py",
    "inspections/views/test_findings.py", "inspections/views/test_on_time.py", "inspections/views/test_review.py",
    "inspections/views/test_week.py", "inspections/views/test_work.py",
)  # fmt: skip
COMMITTING = {"transactional_db", "live_server", "django_db_reset_sequences"}


def is_committing(node) -> bool:
    """Whether the test commits what it writes, for other connections."""
    mark = node.get_closest_marker("django_db")
    return bool(COMMITTING & set(node.fixturenames) or mark and mark.kwargs.get("transaction"))


def is_left_to_sqlite(node) -> bool:
    """Whether PostgreSQL need not repeat the test."""
    path = node.path.relative_to(TESTS)
    rooms = {str(path), *map(str, path.parents)}
    return not rooms.isdisjoint(LEFT_TO_SQLITE) and str(path) not in LISTS and not is_committing(node)
