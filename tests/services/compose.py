"""The served installation without containers, with the commands and the environment of docker/compose.yaml.

Only the network and the mounts of containers are replaced: the hosts `database` and `redis`, the
folders /data, /app/static and /run/secrets, and the port. The two other images (PostgreSQL, Redis) are replaced by
the installed programs, started with the arguments of the file.
"""

import contextlib
import os
import re
import secrets
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from ruamel.yaml import YAML

from tests.services.bobbin import ROOT
from tests.services.postgresql import postgresql
from tests.services.programs import PATIENCE_S, Missing, find_program, free_port, listens, running, wait_until
from tests.services.redis_server import redis_server
from tests.services.tls_proxy import make_certificate

COMPOSE = ROOT / "docker" / "compose.yaml"
EXAMPLE = ROOT / "docker" / "env.example"
ONCE = ("migrate", "prepare")
LASTING = ("web", "worker", "scheduler")
IMAGE_ENVIRONMENT = {"PYTHONUNBUFFERED": "1", "PYTHONDONTWRITEBYTECODE": "1"}


def compose_file() -> dict:
    return YAML(typ="safe").load(COMPOSE.read_text())


@dataclass
class Served:
    """A running installation: its address, the environment and log of each service, and its processes."""

    base_url: str
    folder: Path
    places: dict[str, str]
    services: dict = field(default_factory=lambda: compose_file()["services"])
    processes: dict[str, subprocess.Popen] = field(default_factory=dict)

    def here(self, text: str) -> str:
        whole = "|".join(map(re.escape, self.places))
        return re.sub(rf"({whole})(?![a-z_])", lambda found: self.places[found[0]], text)

    def environment(self, name: str) -> dict[str, str]:
        """Return the environment of a service, without that of this process."""
        of_service = {key: self.here(str(value)) for key, value in self.services[name]["environment"].items()}
        path = f"{Path(sys.executable).parent}:{os.environ['PATH']}"
        of_machine = {"PATH": path, "HOME": str(self.folder), "BIND_ADDRESS": "127.0.0.1", "PORT": self.places["8000"]}
        return of_machine | IMAGE_ENVIRONMENT | self.of_operator() | of_service

    def of_operator(self) -> dict[str, str]:
        """Return docker/env.example as an operator fills it in."""
        lines = [line for line in EXAMPLE.read_text().splitlines() if line and not line.startswith("#")]
        example = dict(line.split("=", 1) for line in lines)
        assert "<" in example["BASE_URL"] and "<" in example["ALLOWED_HOSTS"]
        return example | {"BASE_URL": self.base_url, "ALLOWED_HOSTS": "localhost"}

    def command(self, name: str) -> list[str]:
        return [self.here(part) for part in self.services[name]["command"]]

    def log(self, name: str) -> Path:
        return self.folder / f"{name}.log"

    def run(self, name: str, *command: str) -> subprocess.CompletedProcess:
        """Run a command in the environment of a service, as `docker compose exec` would."""
        return subprocess.run(command, cwd=ROOT, env=self.environment(name), capture_output=True, text=True)

    def is_healthy(self, name: str) -> bool:
        kind, *command = self.services[name]["healthcheck"]["test"]
        assert kind == "CMD"
        return self.run(name, *command).returncode == 0

    def stop(self, name: str) -> int:
        """Stop a service as the engine does, by SIGTERM only; return how it ended."""
        self.processes[name].terminate()
        return self.processes[name].wait(timeout=PATIENCE_S)


@contextlib.contextmanager
def served(folder: Path):
    """Yield a Served whose services are all up and healthy. Raise Missing if a program is not installed."""
    find_program("openssl", package="openssl")
    services = compose_file()["services"]
    for name in ("data", "static", "secrets"):
        (folder / name).mkdir()
    for name in ("secret_key", "database_password", "database_admin_password"):
        (folder / "secrets" / name).write_text(secrets.token_urlsafe(48) + "\n")
    with contextlib.ExitStack() as stack:
        options = [part for part in services["database"]["command"][1:] if part != "-c"]
        password_file = folder / "secrets" / "database_password"
        database_url = stack.enter_context(postgresql(options, password_file))
        make_application_role(database_url, folder / "secrets", "upgrade")
        redis_url = stack.enter_context(redis_server(services["redis"]["command"][1:]))
        port, web_port = free_port(), free_port()
        places = {
            "database:5432": database_url.rsplit("@", 1)[1].split("/")[0],
            "redis://redis:6379/0": redis_url,
            "/run/secrets": str(folder / "secrets"),
            "/app/static": str(folder / "static"),
            "/data": str(folder / "data"),
            "8000": str(web_port),
        }
        installation = Served(f"https://localhost:{port}", folder, places)
        _run_once(installation)
        for name in LASTING:
            _start(stack, installation, name)
        _start_proxy(stack, folder, port, web_port)
        _wait_for_health(installation)
        yield installation


def make_application_role(url: str, secrets: Path, *arguments: str) -> None:
    """Run the script of the database service on a cluster whose superuser is called bobbin."""
    place = urlsplit(url)
    environment = {"PGHOST": place.hostname, "PGPORT": str(place.port), "SECRETS": str(secrets)}
    script = ROOT / "docker" / "database" / "10-application-role.sh"
    done = subprocess.run(["sh", script, *arguments], env=os.environ | environment, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"{script.name} ended {done.returncode}:\n{done.stdout}{done.stderr}")


def _run_once(installation: Served) -> None:
    """Collect the static files as the image does, and run the steps that come before the rest."""
    collect = ["python", "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
    with ThreadPoolExecutor() as threads:
        collected = threads.submit(_run_step, installation, "migrate", collect, "collect")
        for name in ONCE:
            _run_step(installation, name, installation.command(name), name)
        collected.result()


def _run_step(installation: Served, name: str, command: list[str], step: str) -> None:
    done = installation.run(name, *command)
    installation.log(step).write_text(done.stdout + done.stderr)
    if done.returncode:
        raise RuntimeError(f"{step} ended {done.returncode}:\n{(done.stdout + done.stderr)[-3000:]}")


def _start(stack, installation: Served, name: str) -> None:
    environment = installation.environment(name)
    command = installation.command(name)
    log = installation.log(name)
    process = running(command, log=log, env=environment, cwd=ROOT)
    installation.processes[name] = stack.enter_context(process)


def _start_proxy(stack, folder: Path, port: int, web_port: int) -> None:
    files = [str(path) for path in make_certificate(folder)]
    log = folder / "proxy.log"
    command = [sys.executable, "-m", "tests.services.tls_proxy", *files, str(port), str(web_port)]
    process = stack.enter_context(running(command, log=log, cwd=ROOT))
    wait_until(lambda: listens(port), what="the proxy", log=log, process=process)


def _wait_for_health(installation: Served, seconds: float = 4 * PATIENCE_S) -> None:
    end = time.monotonic() + seconds
    waiting = list(LASTING)
    with ThreadPoolExecutor() as threads:
        while waiting and time.monotonic() < end:
            healthy = list(threads.map(installation.is_healthy, waiting))
            waiting = [name for name, is_healthy in zip(waiting, healthy, strict=True) if not is_healthy]
    if waiting:
        logs = "\n".join(installation.log(name).read_text(errors="replace")[-2000:] for name in waiting)
        raise RuntimeError(f"not healthy within {seconds:.0f} s: {', '.join(waiting)}\n{logs}")


__all__ = ["Missing", "Served", "compose_file", "served"]
