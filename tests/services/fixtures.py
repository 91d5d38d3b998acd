"""Session-wide services as fixtures; a test whose program is not installed is skipped with its name."""

import shutil

import psycopg
import pytest

from tests.services.bobbin import celery_worker
from tests.services.migrated import migrate
from tests.services.once import migrated_file
from tests.services.postgresql import postgresql
from tests.services.programs import Missing
from tests.services.redis_server import redis_server


def _started(service):
    """Yield what the service yields, or skip the test with the name of the missing package."""
    try:
        with service() as address:
            yield address
    except Missing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def postgresql_cluster():
    """DATABASE_URL of a throwaway cluster; ask for postgresql_url instead."""
    yield from _started(postgresql)


@pytest.fixture
def postgresql_url(postgresql_cluster):
    """DATABASE_URL of a new, empty database, removed after the test; not the database of the suite."""
    with psycopg.connect(postgresql_cluster, autocommit=True) as connection:
        connection.execute("CREATE DATABASE served")
    yield postgresql_cluster.removesuffix("postgres") + "served"
    with psycopg.connect(postgresql_cluster, autocommit=True) as connection:
        connection.execute("DROP DATABASE served WITH (FORCE)")


@pytest.fixture(scope="session")
def postgresql_template(postgresql_cluster):
    """Name of an empty, migrated database of the throwaway cluster, to copy."""
    with psycopg.connect(postgresql_cluster, autocommit=True) as connection:
        connection.execute("CREATE DATABASE migrated")
    migrate(DATABASE_URL=postgresql_cluster.removesuffix("postgres") + "migrated")
    return "migrated"


@pytest.fixture
def migrated_postgresql(postgresql_cluster, postgresql_template):
    """DATABASE_URL of a new, migrated database, removed after the test."""
    with psycopg.connect(postgresql_cluster, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE copied TEMPLATE {postgresql_template}")
    yield postgresql_cluster.removesuffix("postgres") + "copied"
    with psycopg.connect(postgresql_cluster, autocommit=True) as connection:
        connection.execute("DROP DATABASE copied WITH (FORCE)")


@pytest.fixture(scope="session")
def redis_url():
    """REDIS_URL of a throwaway server."""
    yield from _started(redis_server)


@pytest.fixture(scope="session")
def migrated_sqlite(tmp_path_factory):
    """The file of an empty, migrated SQLite database, to copy."""
    return migrated_file(tmp_path_factory)


@pytest.fixture
def installation(tmp_path, redis_url, migrated_sqlite):
    """Environment variables of a served installation with its own migrated database; for manage() and web_server()."""
    variables = {
        "DATABASE_URL": f"sqlite:///{tmp_path / 'served.sqlite3'}",
        "DATA_DIR": str(tmp_path / "data"),
        "REDIS_URL": redis_url,
    }
    shutil.copy(migrated_sqlite, tmp_path / "served.sqlite3")
    return variables


@pytest.fixture
def worker(installation):
    """A running Celery worker of that installation: the path of its log."""
    with celery_worker(**installation) as log:
        yield log
