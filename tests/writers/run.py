"""One run: technicians enter readings, a register is entered and then corrected, while backups are made."""

import random
import sqlite3
import threading
import time
from collections import Counter
from contextlib import closing

from fleet.catalogue import FEATURES
from tests.factories import make_model
from tests.services.bench_setting import BenchSetting
from tests.services.bench_work import Ledger, Technician
from tests.services.bobbin import manage
from tests.services.programs import PATIENCE_S

READINGS = """
    SELECT step_id, field || CASE WHEN "column" = '' THEN '' ELSE '.' || "row" || '.' || "column" END,
           as_read, unit, entered_by_id
    FROM inspections_reading
"""


class Run:
    """`writers` technicians beside one import of `rows` new machines, one correction of all of them, and backups."""

    def __init__(self, address, folder, env, *, writers, rows, pause):
        self.folder, self.env, self.rows = folder, env, rows
        self.path = env["DATABASE_URL"].removeprefix("sqlite:///")
        setting = BenchSetting(folder, technicians=writers)
        self.area = setting.area
        self.model = make_model(features=dict.fromkeys(FEATURES, "fitted"))
        self.ledger, self.over = Ledger(), threading.Event()
        rng = random.Random("writers")
        self.technicians = [
            Technician(address, who, self.ledger, pause=lambda: time.sleep(rng.uniform(0, 2 * pause)))
            for who in setting.technicians
        ]
        self.waits, self.took, self.troubles = {}, {}, []
        self.phase = "before"

    def go(self):
        """Run, and return a sentence for each fault."""
        threads = [threading.Thread(target=self._work, args=(one,), daemon=True) for one in self.technicians]
        threads.append(threading.Thread(target=self._probe, daemon=True))
        for thread in threads:
            thread.start()
        time.sleep(3)
        backups = threading.Thread(target=self._back_up, daemon=True)
        backups.start()
        self._import("import", note="")
        self._import("correction", note="Looked at")
        self.phase = "after"
        self.over.set()
        for thread in [*threads, backups]:
            thread.join(timeout=4 * PATIENCE_S)
        self._check()
        return self.troubles

    def _work(self, technician):
        try:
            technician.log_in()
            while not self.over.is_set():
                technician.work()
        except Exception as error:
            self.ledger.troubles.append(f"{type(error).__name__}: {error}")

    def _probe(self):
        """Take the writer's lock repeatedly, and record the time that this takes."""
        with closing(sqlite3.connect(self.path, timeout=PATIENCE_S, isolation_level=None)) as database:
            while not self.over.is_set():
                phase, start = self.phase, time.perf_counter()
                database.execute("BEGIN IMMEDIATE")
                database.execute("ROLLBACK")
                self.waits.setdefault(phase, []).append(time.perf_counter() - start)
                time.sleep(0.02)

    def _import(self, phase, *, note):
        file = self.folder / "register.csv"
        site, area = self.area.site.code, self.area.name
        lines = [f"W-{n:05},{self.model.code},{site},{area},2020-01-0{1 + n % 9},{note}" for n in range(self.rows)]
        file.write_text("\n".join(["asset_number,model,site,area,in_use_from,note", *lines]))
        self.phase, start = phase, time.perf_counter()
        said = manage("import_register", str(file), **self.env).stdout.strip().splitlines()[-1]
        self.took[phase] = (time.perf_counter() - start, said)

    def _back_up(self):
        count = 0
        while not self.over.is_set():
            count += 1
            file = self.folder / f"{count}.backup"
            start = time.perf_counter()
            manage("backup", str(file), **self.env)
            self.took[f"backup {count}"] = (time.perf_counter() - start, f"{file.stat().st_size // 1024:,} KB")
            file.unlink()

    def _check(self):
        acknowledged = {(e.step, e.slot, e.as_read, e.unit, e.person) for e in self.ledger.readings}
        with closing(sqlite3.connect(self.path)) as database:
            found = Counter(database.execute(READINGS).fetchall())
            machines = database.execute("SELECT count(*) FROM fleet_machine WHERE note = 'Looked at'").fetchone()[0]
            integrity = database.execute("PRAGMA integrity_check").fetchone()[0]
        self.troubles += self.ledger.troubles
        self.troubles += [f"lost: {entry}" for entry in acknowledged - set(found)]
        self.troubles += [f"kept {n} times: {entry}" for entry, n in found.items() if n > 1]
        self.troubles += [f"{n} answers {why}" for why, n in self._wrong_answers()]
        self.troubles += [] if machines == self.rows else [f"{machines} of {self.rows} machines corrected"]
        self.troubles += [] if integrity == "ok" else [f"integrity: {integrity}"]

    def _wrong_answers(self):
        """Return answers that no writer may get; 503 and a connection closed while idle are tried again."""
        answers = self.ledger.unanswered.items()
        return [(why, n) for why, n in answers if why.startswith("status 5") and why != "status 503"]

    def summary(self):
        """Return what was done and found, as lines."""
        busy = self.ledger.unanswered["status 503"]
        readings = sorted(self.ledger.seconds.get("reading", [0.0]))
        return [
            f"{len(self.technicians)} writers: {len(self.ledger.readings)} readings acknowledged, {busy} answers 503, "
            f"{self.ledger.unanswered.total() - busy} requests without an answer, sent again",
            f"a reading took {readings[len(readings) // 2]:.2f} s in the middle, {readings[-1]:.2f} s at most",
            *(f"{name}: {seconds:.1f} s; {said}" for name, (seconds, said) in self.took.items()),
            *(
                f"longest wait for the writer's lock, {name}: {max(w):.2f} s of {len(w)}"
                for name, w in self.waits.items()
            ),
            f"troubles: {len(self.troubles) or 'none'}",
            *self.troubles[:20],
        ]
