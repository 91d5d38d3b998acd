"""Fixtures of the whole suite. The marks database, postgres, redis and browser follow from a test's fixtures."""

import os
import shutil
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.test import TransactionTestCase
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings

from fleet.acting.scope import collecting, history, renew_counted
from tests.services.both_databases import is_committing, is_left_to_sqlite
from tests.services.calendar_reader import NOT_FETCHED
from tests.services.once import copy_migrated, migrated_file

pytest_plugins = ["tests.services.fixtures", "tests.services.browser"]

IS_CI = os.environ.get("CI") == "true"
MARKS = {
    "database": {"db", "transactional_db", "django_db_setup"},
    "postgres": {"postgresql_url", "migrated_postgresql"},
    "redis": {"redis_url"},
    "browser": {"browser_page", "browser"},
}

# Files that take longest, begun first, so that the last minutes are not those of one process alone.
FIRST = (
    "test_served.py", "test_accessibility.py", "test_hostile_text.py", "test_matrix.py", "test_migrations.py",
    "test_without_network.py", "test_kill.py", "test_bench_keyboard.py", "test_tasks.py", "test_main_job.py",
    "test_worker.py", "test_older_store.py", "test_command_line.py",
)  # fmt: skip

# The same examples at every run in CI; no deadline, and no check of how fast examples are made, because the computer
# may be busy.
hypothesis_settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
hypothesis_settings.register_profile("ci", hypothesis_settings.get_profile("here"), derandomize=True)
# For faults put into the code: the tests run again and again in one process.
hypothesis_settings.register_profile(
    "mutation", deadline=None, derandomize=True, max_examples=20, database=None,
    suppress_health_check=[HealthCheck.differing_executors, HealthCheck.too_slow],
)  # fmt: skip
hypothesis_settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if IS_CI else "here"))


def pytest_configure():
    """Use a fast password hash in tests."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def pytest_collection_modifyitems(items):
    for item in items:
        asked_for = set(getattr(item, "fixturenames", ()))
        for mark, fixtures in MARKS.items():
            if asked_for & fixtures:
                item.add_marker(mark)
        if item.get_closest_marker("django_db") or issubclass(
            getattr(item, "cls", None) or object, TransactionTestCase
        ):
            item.add_marker("database")
        if is_left_to_sqlite(item):
            item.add_marker("same_on_both")
    items.sort(key=lambda item: FIRST.index(item.path.name) if item.path.name in FIRST else len(FIRST))


def pytest_sessionfinish(session):
    """In CI a skipped test is a failure, because every program can be installed there."""
    unexcused = [report for report in _skipped(session.config) if NOT_FETCHED not in _reason(report)]
    if IS_CI and unexcused and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter):
    skipped = _skipped(terminalreporter.config)
    if not skipped:
        return
    terminalreporter.section(
        "not run here" if not IS_CI else "skipped, which CI counts as a failure but where README.md says why"
    )
    for report in skipped:
        terminalreporter.line(f"{report.nodeid}: {_reason(report)}")


def _skipped(config) -> list:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    return reporter.stats.get("skipped", []) if reporter else []


def _reason(report) -> str:
    return report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings, tmp_path_factory):
    """Keep the SQLite test database in a file: a connection for each thread of the live server, as in real use.

    On both databases it is a copy of one that the first process migrates.
    """
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        worker = os.environ.get("PYTEST_XDIST_WORKER", "main")
        path = Path(tmp_path_factory.mktemp("db")) / f"{worker}.sqlite3"
        shutil.copy(migrated_file(tmp_path_factory), path)
        database["OPTIONS"] |= {"init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;"}
        database.setdefault("TEST", {})["NAME"] = str(path)
    else:
        copy_migrated(tmp_path_factory, connection.creation._get_test_db_name())


@pytest.fixture(scope="session")
def django_db_keepdb():
    """The test database is there already, and goes with the folder or the cluster of the run."""
    return True


@pytest.fixture(autouse=True)
def journal_scope(request):
    """Tests may date their actions freely, and what factories write without actions counts as written by one.

    Rows that follow from records are renewed when a reader asks for them, in tests whose rows no other connection
    sees; where queries are counted they are renewed before, and meanwhile by each action as in use. With the mark
    `renewed_at_once` each action renews them.

    With the mark `real_journal` none of it holds: every action journals by itself, at the present time.
    """
    if request.node.get_closest_marker("real_journal"):
        yield
        return
    committing = is_committing(request.node)
    assert not (committing and connection.in_atomic_block), "A module with rows of its own has no test that commits."
    with history(), collecting("test") as scope:
        if request.node.get_closest_marker("renewed_at_once") or committing:
            yield
        else:
            with _patient_but_while_counting(scope):
                yield


@contextmanager
def _patient_but_while_counting(scope):
    enter, leave, open_counts = CaptureQueriesContext.__enter__, CaptureQueriesContext.__exit__, []

    def entered(counting):
        open_counts.append(counting)
        scope.is_patient = False
        renew_counted(scope)
        return enter(counting)

    def left(counting, *error):
        open_counts.remove(counting)
        scope.is_patient = not open_counts
        return leave(counting, *error)

    scope.is_patient = True
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(CaptureQueriesContext, "__enter__", entered)
        patch.setattr(CaptureQueriesContext, "__exit__", left)
        yield
