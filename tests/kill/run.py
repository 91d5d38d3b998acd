"""One run: technicians work without a pause while one service after another is killed."""

import random
import threading
import time
from collections import Counter

from tests.fleet.photographs.pictures import four_corners, stored
from tests.kill.checks import Jobs, chain_answer, photograph_troubles, reading_troubles, signature_troubles
from tests.services.bench_work import Ledger, Technician
from tests.services.programs import PATIENCE_S

SMALL = stored(four_corners(320, 240))  # the photograph that they take


class Run:
    """`rounds` kills, distributed evenly over the services in an order that depends on `seed`."""

    def __init__(self, parts, address, env, setting, *, rounds, seed, say=print):
        self.parts, self.env, self.url, self.say = parts, env, env["DATABASE_URL"], say
        self.rng = random.Random(seed)
        names = sorted(parts)
        self.targets = [names[number % len(names)] for number in range(rounds)]
        self.rng.shuffle(self.targets)
        self.over = threading.Event()
        self.ledger, self.jobs = Ledger(), Jobs(setting)
        self.technicians = [Technician(address, who, self.ledger, photograph=SMALL) for who in setting.technicians]
        self.killed, self.seconds, self.troubles, self.checked = Counter(), [], [], 0

    def go(self):
        """Run, and return a sentence for each fault: none, if nothing was lost or duplicated."""
        threads = [threading.Thread(target=self._work, args=(one,), daemon=True) for one in self.technicians]
        for thread in threads:
            thread.start()
        self._wait_for_readings(60)
        for number, name in enumerate(self.targets, start=1):
            self._round(number, name)
            if self.ledger.troubles:
                break
        self.over.set()
        for thread in threads:
            thread.join(timeout=4 * PATIENCE_S)
        self.jobs.finish()
        self._check_all()
        return self.troubles

    def _wait_for_readings(self, seconds):
        """Wait, at most `seconds`, until everybody has entered something, so that the next kill interrupts work."""
        end, before = time.monotonic() + seconds, len(self.ledger.readings)
        while time.monotonic() < end:
            if len({entered.person for entered in self.ledger.readings[before:]}) == len(self.technicians):
                return
            time.sleep(0.05)

    def _work(self, technician):
        try:
            technician.log_in()
            while not self.over.is_set():
                technician.work()
        except Exception as error:
            self.ledger.troubles.append(f"{type(error).__name__}: {error}")

    def _round(self, number, name):
        start = time.monotonic()
        self.jobs.ask(number)
        self._wait_for_readings(3)
        time.sleep(self.rng.uniform(0.0, 1.0))
        how = self.parts[name].kill(self.rng)
        self.killed[name, how] += 1
        for part in self.parts.values():
            part.wait()
        self.jobs.recover()
        self._check_new()
        self.seconds.append(time.monotonic() - start)
        if number % 10 == 0:
            read, signed = len(self.ledger.readings), len(self.ledger.signed)
            self.say(f"round {number}: {read} readings, {signed} signatures, {len(self.troubles)} troubles")

    def _check_new(self):
        with self.ledger.lock:
            entered = self.ledger.readings[self.checked :]
        if entered:
            self.troubles += reading_troubles(self.url, entered)
        self.checked += len(entered)

    def _check_all(self):
        self.troubles += self.ledger.troubles
        self.troubles += reading_troubles(self.url, self.ledger.readings)
        self.troubles += photograph_troubles(self.url, self.ledger.photographs)
        self.troubles += signature_troubles(self.url, self.ledger.signed)
        self.troubles += self.jobs.troubles(self.url)
        self.chain, is_intact = chain_answer(self.env)
        self.troubles += [] if is_intact else [f"chain: {self.chain}"]

    def summary(self):
        """Return what was done and found, as lines."""
        kills = ", ".join(f"{name} {number} ({how})" for (name, how), number in sorted(self.killed.items()))
        longest, total, count = max(self.seconds), sum(self.seconds), len(self.seconds)
        why = ", ".join(f"{number} {reason}" for reason, number in self.ledger.unanswered.most_common())
        return [
            f"{count} rounds in {total:.0f} s: {total / count:.1f} s each, longest {longest:.1f} s",
            f"killed: {kills}",
            f"{len(self.technicians)} technicians: {len(self.ledger.readings)} readings and {len(self.ledger.signed)} "
            f"signatures acknowledged; {self.ledger.unanswered.total()} requests without an answer, sent again ({why})",
            self._latency(),
            self.jobs.words(),
            f"chain: {self.chain}",
            f"troubles: {len(self.troubles) or 'none'}",
            *self.troubles[:20],
        ]

    def _latency(self):
        """How long answers took, those alone that came, and how long anybody waited for one through a death."""
        seconds = sorted(took for each in self.ledger.seconds.values() for took in each)
        half, most = (1e3 * seconds[int(part * (len(seconds) - 1))] for part in (0.5, 0.99))
        longest = self.ledger.longest_wait
        return (
            f"{len(seconds)} answers: half within {half:.0f} ms, 99 % within {most:.0f} ms; "
            f"longest wait through a death {longest:.1f} s"
        )
