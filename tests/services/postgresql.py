"""A throwaway PostgreSQL cluster in a temporary folder, reachable on the loopback address only."""

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

import psycopg

from tests.services.programs import Missing, find_program, free_port, listens, running, wait_until

BIN_FOLDERS = ("/usr/lib/postgresql/*/bin",)
# The data are thrown away, so nothing waits for the disk.
FAST = [
    "fsync=off",
    "synchronous_commit=off",
    "full_page_writes=off",
    "max_connections=60",
    "shared_buffers=128MB",
]


@contextlib.contextmanager
def postgresql():
    """Yield the DATABASE_URL of a new cluster. Raise Missing when PostgreSQL is not on this machine."""
    programs = {name: find_program(name, package="postgresql", folders=BIN_FOLDERS) for name in ("initdb", "postgres")}
    folder = Path(tempfile.mkdtemp(prefix="bobbin-pg-"))
    try:
        as_owner = _run_as_owner(folder)
        initdb = [programs["initdb"], "-D", str(folder / "data"), "-U", "bobbin", "-A", "trust"]
        subprocess.run(
            [*as_owner, *initdb, "-E", "UTF8", "--no-sync", "--locale=C.UTF-8"],
            check=True, capture_output=True, cwd=folder,
        )  # fmt: skip
        port = free_port()
        command = [
            *as_owner,
            programs["postgres"],
            "-D",
            str(folder / "data"),
            "-p",
            str(port),
            "-h",
            "127.0.0.1",
        ]
        options = [part for option in [*FAST, "unix_socket_directories="] for part in ("-c", option)]
        log = folder / "log"
        with running(command + options, log=log, cwd=folder) as process:
            url = f"postgres://bobbin@127.0.0.1:{port}/postgres"
            wait_until(lambda: _answers(port, url), what="PostgreSQL", log=log, process=process)
            yield url
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run_as_owner(folder: Path) -> list[str]:
    """PostgreSQL refuses to run as root: hand the folder to the user that the Debian package made, and run as that."""
    if os.geteuid() != 0:
        return []
    try:
        owner = pwd.getpwnam("postgres")
    except KeyError:
        raise Missing("the user postgres does not exist (Debian package postgresql)") from None
    os.chown(folder, owner.pw_uid, owner.pw_gid)
    setpriv = find_program("setpriv", package="util-linux")
    return [setpriv, f"--reuid={owner.pw_uid}", f"--regid={owner.pw_gid}", "--clear-groups", "--"]


def _answers(port: int, url: str) -> bool:
    if not listens(port):
        return False
    try:
        psycopg.connect(url, connect_timeout=2).close()
    except psycopg.OperationalError:
        return False
    return True
