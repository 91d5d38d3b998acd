"""What a run works on: an installation on SQLite whose web server can be killed, an inspection, and tablets."""

import contextlib
import os
from dataclasses import dataclass
from pathlib import Path

from tests.services.bobbin import ROOT
from tests.services.cable import Cable
from tests.services.migrated import migrate
from tests.services.processes import Part
from tests.services.programs import free_port
from tests.services.served import WEB, shows_login
from tests.services.tablet import Tablet


@dataclass
class Stage:
    """steps  (number, address) of each step of the inspection that everybody works on"""

    folder: Path
    database: Path
    server: Part
    port: int
    technicians: list
    steps: list


@contextlib.contextmanager
def prepared(folder: Path):
    """Yield a Stage in an empty folder; the server is stopped at the end."""
    port, database = free_port(), folder / "bobbin.sqlite3"
    env = os.environ | {
        "DATABASE_URL": f"sqlite:///{database}",
        "DATA_DIR": str(folder),
        "SECRET_KEY": "only-for-this-run-" + "k" * 40,
        "BASE_URL": "http://127.0.0.1",
        "BIND_ADDRESS": "127.0.0.1",
        "PORT": str(port),
        "ALLOWED_HOSTS": "127.0.0.1",
        "DEBUG": "no",
        "TIME_ZONE": "UTC",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    migrate(**env)
    os.environ.update(env)
    technicians, steps = _inspection(folder)
    server = Part("web", WEB, folder=folder, env=env, cwd=ROOT, is_ready=lambda: shows_login(port))
    server.start()
    try:
        server.wait()
        yield Stage(folder, database, server, port, technicians, steps)
    finally:
        server.stop()


def tablets(playwright, stage, people, *, label):
    """Start a tablet for each number of a technician in `people`, signed in, with the whole inspection on it."""
    started = []
    for number, person in enumerate(people):
        name = f"{label}, tablet {number + 1}"
        profile = stage.folder / f"profile-{label.replace(' ', '-')}-{number}"
        cable, who = Cable(stage.port), stage.technicians[person]
        tablet = Tablet(playwright, profile, cable, who, stage.steps, name=name)
        tablet.start()
        tablet.sign_in()
        tablet.wait_until_stored()
        started.append(tablet)
    return started


def _inspection(folder):
    import django

    django.setup()
    from django.utils import timezone

    from fleet.models import Machine, Person
    from inspections.actions import open_inspection, plan_inspection
    from tests.services.bench_setting import BenchSetting

    procedures = folder / "procedures"
    procedures.mkdir()
    setting = BenchSetting(procedures, technicians=2)
    now, person = timezone.now(), Person.objects.get(pk=setting.technicians[0]["pk"])
    machine = Machine.objects.get(pk=setting.technicians[0]["machine"])
    inspection = plan_inspection(machine, setting.procedure, due_on=now.date(), by=person, at=now)
    open_inspection(inspection, by=person, at=now)
    measured = [step for step in inspection.steps.filter(applies=True) if step.test_code != "observation"]
    return setting.technicians, [(step.pk, step.get_absolute_url()) for step in measured]
