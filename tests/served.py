"""Start the served installation as docker/compose.yaml says, without containers, and do the main job on it.

    python -m tests.served           start, main job in the browser, then stop services and read the health page
    python -m tests.served --stay    start and go on running; Ctrl+C ends it

Needs PostgreSQL, Redis, Chromium and openssl; ends with 3 and a sentence where one is missing.
"""

import json
import os
import ssl
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from tests.services.compose import LASTING, Served, served
from tests.services.programs import PATIENCE_S, Missing, find_program

MISSING = 3
ALL_UP = dict.fromkeys(("web", "database", "tables", "space", "broker", "worker", "scheduler"), "up")
NAMES = ("nora", "tom", "mia", "Tom Bench", "B-100", "Theatre with a name")


def main(arguments: list[str]) -> int:
    start = time.monotonic()

    def say(text: str) -> None:
        print(f"{time.monotonic() - start:5.1f} s  {text}", flush=True)

    try:
        chromium = find_program("chromium", package="chromium")
        with tempfile.TemporaryDirectory(prefix="bobbin-served-") as folder, served(Path(folder)) as installation:
            say(f"every service is up and healthy at {installation.base_url}")
            if "--stay" in arguments:
                return stay()
            check(installation, chromium, say)
    except Missing as missing:
        print(missing)
        return MISSING
    return 0


def stay() -> int:
    try:
        while True:
            time.sleep(1)
    except KeyboardInterrupt:
        return 0


def check(installation: Served, chromium: str, say) -> None:
    checks_are_clean(installation)
    say("check --deploy finds nothing")
    health_becomes(installation, 200, ALL_UP)
    say("the health page says that every part is up")
    main_job(installation, chromium)
    say("main job done in the browser")
    lines = logged_requests(installation)
    say(f"{lines} request lines, none with personal data")
    told_apart(installation)
    say("the health page tells what is down: scheduler, worker")
    assert installation.stop("web") == 0, "gunicorn did not end gracefully"
    say("every service ended by itself when it was asked to")


def checks_are_clean(installation: Served) -> None:
    done = installation.run("web", "python", "manage.py", "check", "--deploy", "--fail-level", "WARNING")
    assert done.returncode == 0, done.stdout + done.stderr


def ask_health(installation: Served) -> tuple[int, dict[str, str]]:
    trusting = ssl.create_default_context(cafile=str(installation.folder / "certificate.pem"))
    try:
        answer = urllib.request.urlopen(f"{installation.base_url}/health/", context=trusting, timeout=PATIENCE_S)
    except urllib.error.HTTPError as error:
        answer = error
    with answer:
        return answer.status, {name: part["state"] for name, part in json.load(answer)["parts"].items()}


def health_becomes(installation: Served, status: int, states: dict[str, str]) -> None:
    """Ask until the health page says so: on a busy computer a part that works may once not answer in time."""
    end = time.monotonic() + PATIENCE_S
    while (answer := ask_health(installation)) != (status, states):
        assert time.monotonic() < end, answer
        time.sleep(0.5)


def main_job(installation: Served, program: str) -> None:
    """Do the steps of the browser test, on the database of the installation."""
    os.environ.update(installation.environment("web"), DJANGO_ALLOW_ASYNC_UNSAFE="true", LOG_FORMAT="plain")
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    import django

    django.setup()
    from playwright.sync_api import sync_playwright

    from tests.browser.main_job import do_main_job
    from tests.services.browser import QUIET, watched_page

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=program, args=QUIET)
        with watched_page(chromium, installation.base_url) as page:
            do_main_job(page, screenshot=lambda name: None)
            answer = page.request.get("/static/bobbin/bobbin.css")
            assert answer.ok
            assert "bobbin." in page.locator("link[rel=stylesheet]").first.get_attribute("href").replace(".css", "")
        chromium.close()


def logged_requests(installation: Served) -> int:
    """Read the log of every service: each line one JSON object, and nothing in them that names a person or a record."""
    requests = 0
    for name in LASTING:
        text = installation.log(name).read_text()
        for line in text.splitlines():
            requests += json.loads(line)["event"] == "request"
        assert [word for word in NAMES if word in text] == []
        assert "?" not in text
    assert requests > 50
    return requests


def told_apart(installation: Served) -> None:
    assert installation.stop("worker") == 0
    health_becomes(installation, 503, ALL_UP | {"worker": "down"})
    assert installation.stop("scheduler") == 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
