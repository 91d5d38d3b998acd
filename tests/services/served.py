"""A served installation whose services can be killed: PostgreSQL, Redis, web nodes and Celery workers.

tests/services/compose.py starts everything that the compose file names; this module only what people wait for.
"""

import contextlib
import os
import sys
import tempfile
from pathlib import Path

from tests.services.bobbin import ROOT
from tests.services.cable import Cable
from tests.services.migrated import migrate
from tests.services.postgresql import answers, cluster
from tests.services.processes import Part
from tests.services.programs import find_program, free_port, listens
from tests.services.redis_server import redis_command
from tests.services.visitor import FAILURES, Visitor

# As in use: an acknowledged transaction is on disk.
DURABLE = [
    "fsync=on",
    "synchronous_commit=on",
    "full_page_writes=on",
    "recovery_init_sync_method=syncfs",  # one call after a crash instead of one for each of a thousand files
    "max_connections=100",
    "shared_buffers=128MB",
]


@contextlib.contextmanager
def served(*, webs=1, workers=1, **variables):
    """Yield the services by name, the address, and the environment of a new, migrated installation.

    Every web node and worker is a service of its own; before more than one web node stands a proxy.
    """
    with tempfile.TemporaryDirectory(prefix="bobbin-served-") as folder, contextlib.ExitStack() as stack:
        os.chmod(folder, 0o755)
        command, database_url = stack.enter_context(cluster(DURABLE))
        redis_port, *ports = (free_port() for _ in range(1 + webs))
        cable = Cable(*ports)
        stack.callback(cable.close)
        port = ports[0] if webs == 1 else cable.port
        env = environment(Path(folder), database_url, f"redis://127.0.0.1:{redis_port}/0", port) | variables
        database = Part("database", command, folder=folder, cwd=folder, is_ready=lambda: answers(database_url))
        nodes = [_web(number, each, folder, env) for number, each in enumerate(ports, start=1)]
        behind = [_redis(redis_port, folder), *(_worker(number, folder, env) for number in range(1, workers + 1))]
        for part in (database, *behind, *nodes):  # the last is stopped first, so that no request is served any more
            stack.callback(part.stop)
        database.start()
        database.wait()
        migrate(**env)
        for part in (*behind, *nodes):
            part.start()
        for part in (*behind, *nodes):
            part.wait()
        yield {part.name: part for part in (database, *behind, *nodes)}, f"http://127.0.0.1:{port}", env


def _web(number, port, folder, env):
    own = env | {"PORT": str(port)}
    return Part(_name("web", number), WEB, folder=folder, env=own, cwd=ROOT, is_ready=lambda: shows_login(port))


def _worker(number, folder, env):
    command = [*WORKER, f"--hostname=worker-{number}@%h"]
    return Part(_name("worker", number), command, folder=folder, env=env, cwd=ROOT, is_ready=lambda: True)


def _redis(port, folder):
    command = redis_command(find_program("redis-server", package="redis-server"), port, folder)
    return Part("redis", command, folder=folder, cwd=folder, is_ready=lambda: listens(port))


def _name(kind, number):
    return kind if number == 1 else f"{kind} {number}"


WEB = [sys.executable, "-m", "gunicorn", "-c", "config/gunicorn.py", "config.wsgi"]
WORKER = [
    sys.executable, "-m", "celery", "--quiet", "-A", "config", "worker", "--concurrency=2", "--loglevel=INFO",
    "--without-gossip", "--without-mingle",
]  # fmt: skip


def environment(folder, database_url, redis_url, port):
    data = folder / "data"
    data.mkdir()
    (data / "static").mkdir()
    return os.environ | {
        "DATABASE_URL": database_url,
        "REDIS_URL": redis_url,
        "DATA_DIR": str(data),
        "SECRET_KEY": "only-for-this-run-" + "k" * 40,
        "BASE_URL": f"http://127.0.0.1:{port}",
        "BIND_ADDRESS": "127.0.0.1",
        "PORT": str(port),
        "ALLOWED_HOSTS": "127.0.0.1",
        "DEBUG": "no",
        "TIME_ZONE": "UTC",
        "JOB_LEASE_SECONDS": "5",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }


def shows_login(port):
    if not listens(port):
        return False
    try:
        return Visitor(f"http://127.0.0.1:{port}", timeout=10).get("/login/").status == 200
    except FAILURES:
        return False
