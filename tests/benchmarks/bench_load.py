"""Fifty technicians at once on the served installation of this machine, beside one alone in the same run.

`python -m tests.benchmarks.bench_load --technicians 50`. Each signs in, then does whole inspections from plan to
signature; between two readings somebody at a bench waits for a gauge, here `--pause` seconds on average. At two steps
of each they write a remark and take a photograph of 12 megapixels and some 3.5 MB. The requests come from this process,
on the same cores as the server: the printed times are longer than on a tablet.
"""

import argparse
import io
import os
import random
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

KINDS = (
    "login page", "sign in", "plan", "open", "bench", "bench page", "reading", "remark", "photograph", "not tested",
    "sign",
)  # fmt: skip


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_load", description=__doc__.split("\n")[0])
    parser.add_argument("--technicians", type=int, default=50, help="how many at once, default 50")
    parser.add_argument("--inspections", type=int, default=1, help="how many each of them does, default 1")
    parser.add_argument("--pause", type=float, default=5.0, help="mean wait between two readings in s, default 5")
    options = parser.parse_args()

    from tests.services.served import served

    # A connection for each thread that serves, within what PostgreSQL allows.
    with served(WEB_CONCURRENCY="2", WEB_THREADS="8") as (_, address, env), tempfile.TemporaryDirectory() as folder:
        os.environ.update(env)
        import django

        django.setup()
        from tests.services.bench_setting import BenchSetting

        setting = BenchSetting(Path(folder), technicians=options.technicians)
        alone = load(address, setting.technicians[:1], inspections=options.inspections, pause=0.0)
        together = load(address, setting.technicians, inspections=options.inspections, pause=options.pause)
        lost = missing(env["DATABASE_URL"], alone, together)
    print(table(f"One technician alone, without a pause, {os.cpu_count()} cores", alone))
    print(table(f"{options.technicians} technicians at once, {options.pause:g} s between two readings", together))
    print(f"acknowledged and not in the database: {len(lost) or 'none'}")
    troubles = [*alone.ledger.troubles, *together.ledger.troubles, *lost]
    print(*troubles[:20], sep="\n")
    return 1 if troubles or alone.errors or together.errors else 0


class Load:
    """The result of one load: its ledger and its duration."""

    def __init__(self, ledger, seconds):
        self.ledger, self.seconds = ledger, seconds

    @property
    def errors(self):
        return self.ledger.unanswered.total()


def load(address, people, *, inspections, pause):
    """Let every one of `people` do that many inspections at the same time; return the Load."""
    from tests.services.bench_work import Ledger, Technician

    ledger, rng, photograph = Ledger(), random.Random("load"), camera_photograph()
    technicians = [
        Technician(address, who, ledger, pause=pauses(rng.random(), pause), photograph=photograph) for who in people
    ]
    threads = [threading.Thread(target=work, args=(one, inspections), daemon=True) for one in technicians]
    start = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return Load(ledger, time.perf_counter() - start)


def work(technician, inspections):
    try:
        technician.log_in()
        technician.pause()
        for _ in range(inspections):
            technician.work()
    except Exception as error:
        technician.ledger.troubles.append(f"{type(error).__name__}: {error}")
    finally:
        technician.visitor.close()


def pauses(seed, mean):
    """A function that waits between half and one and a half times the mean."""
    rng = random.Random(seed)
    return lambda: time.sleep(rng.uniform(0.5, 1.5) * mean)


def camera_photograph():
    """A picture of 4,000 x 3,000 pixels as large as that of a tablet, between 3 and 4 MB: shapes with fine grain."""
    from PIL import Image

    shapes = Image.effect_mandelbrot((1000, 750), (-2, -1.2, 0.8, 1.2), 60).resize((4000, 3000))
    grain = Image.effect_noise((4000, 3000), 28)
    image = Image.merge("RGB", [Image.blend(shapes, grain, part) for part in (0.4, 0.5, 0.6)])
    file = io.BytesIO()
    image.save(file, "JPEG", quality=82)
    return file.getvalue()


def missing(url, *loads):
    """Return what is missing of the acknowledged readings, photographs and signatures, as in the kill run."""
    from tests.kill.checks import photograph_troubles, reading_troubles, signature_troubles

    readings = [entered for one in loads for entered in one.ledger.readings]
    signed = [pk for one in loads for pk in one.ledger.signed]
    taken = [photograph for one in loads for photograph in one.ledger.photographs]
    return reading_troubles(url, readings) + photograph_troubles(url, taken) + signature_troubles(url, signed)


def table(title, load):
    """Latency of each kind of request in milliseconds, as text."""
    lines = [f"\n{title}", f"{'':12}   number   p50 ms   p90 ms   p99 ms   max ms"]
    total = 0
    for kind in KINDS:
        seconds = sorted(load.ledger.seconds.get(kind, ()))
        if not seconds:
            continue
        total += len(seconds)
        cuts = [quantile(seconds, part) * 1e3 for part in (0.5, 0.9, 0.99)]
        lines.append(f"{kind:12}  {len(seconds):7}" + "".join(f"  {cut:7.0f}" for cut in (*cuts, seconds[-1] * 1e3)))
    errors = ", ".join(f"{number} {why}" for why, number in load.ledger.unanswered.most_common())
    lines.append(
        f"{total} requests in {load.seconds:.1f} s: {total / load.seconds:.1f} a second; "
        f"{len(load.ledger.readings)} readings, {len(load.ledger.photographs)} photographs, asked for again "
        f"{load.ledger.asked_again} times, {len(load.ledger.signed)} signatures; errors: {errors or 'none'}"
    )
    return "\n".join(lines)


def quantile(ordered, part):
    """The value below which this part of sorted values lies; for one value that value."""
    if len(ordered) < 2:
        return ordered[0]
    return statistics.quantiles(ordered, n=100, method="inclusive")[round(part * 100) - 1]


if __name__ == "__main__":
    sys.exit(main())
