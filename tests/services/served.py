"""A served installation whose services can be killed: PostgreSQL, Redis, gunicorn and a Celery worker.

tests/services/compose.py starts everything that the compose file names; this module only what people wait for.
"""

import contextlib
import os
import sys
import tempfile
from pathlib import Path

from tests.services.bobbin import ROOT, manage
from tests.services.postgresql import answers, cluster
from tests.services.processes import Part
from tests.services.programs import free_port, listens
from tests.services.redis_server import redis_server
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
def served(**variables):
    """Yield the services by name, the address, and the environment of a new, migrated installation."""
    with tempfile.TemporaryDirectory(prefix="bobbin-served-") as folder, contextlib.ExitStack() as stack:
        os.chmod(folder, 0o755)
        redis_url = stack.enter_context(redis_server())
        command, database_url = stack.enter_context(cluster(DURABLE))
        port = free_port()
        env = environment(Path(folder), database_url, redis_url, port) | variables
        parts = {
            part.name: part
            for part in (
                Part("database", command, folder=folder, cwd=folder, is_ready=lambda: answers(database_url)),
                Part("web", WEB, folder=folder, env=env, cwd=ROOT, is_ready=lambda: shows_login(port)),
                Part("worker", WORKER, folder=folder, env=env, cwd=ROOT, is_ready=lambda: True),
            )
        }
        for part in parts.values():
            stack.callback(part.stop)
        stack.callback(parts["web"].stop)  # first, so that no request is served any more
        parts["database"].start()
        parts["database"].wait()
        manage("migrate", "--verbosity=0", **env)
        for name in ("web", "worker"):
            parts[name].start()
        parts["web"].wait()
        yield parts, f"http://127.0.0.1:{port}", env


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
