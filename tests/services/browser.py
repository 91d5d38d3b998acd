"""A real Chromium on the live server, driven through Playwright."""

import contextlib
import time
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import expect, sync_playwright

from tests.services.programs import Missing, find_program

SCREENSHOTS = Path(__file__).resolve().parents[2] / ".bobbin" / "screenshots"
PATIENCE_MS = 120_000  # for a computer that is slow and stands still now and then; normally nothing waits this long
WIDE = {"width": 1280, "height": 900}
TABLET = {"width": 768, "height": 1024}
PROBE = "/is-it-intercepted/"
expect.set_options(timeout=PATIENCE_MS)
QUIET = [
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--no-first-run",
    "--no-sandbox",
]


@pytest.fixture(scope="module")
def browser():
    """Start Chromium for the tests of one module.

    Playwright keeps an event loop in this thread, where Django then refuses synchronous queries; nothing here is
    asynchronous, so that guard is disabled while the loop runs.
    """
    try:
        program = find_program("chromium", package="chromium")
    except Missing as missing:
        pytest.skip(str(missing))
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        chromium = playwright.chromium.launch(executable_path=program, args=QUIET)
        yield chromium
        chromium.close()


@pytest.fixture
def browser_page(browser, live_server):
    """A page 1280 px wide at the live server, from watched_page()."""
    with watched_page(browser, live_server.url) as page:
        yield page


@contextlib.contextmanager
def watched_page(chromium, base_url: str, *, service_workers: str = "block"):
    """Yield a page 1280 px wide; fail at the end after a script error, a failed answer or refused content.

    Refused: what the content security policy forbids, which the browser reports only in its console. Without a service
    worker, unless a test is about it: a test sees no request that passes through one.
    """
    context = chromium.new_context(
        base_url=base_url,
        viewport=WIDE,
        locale="en-GB",
        timezone_id="UTC",
        ignore_https_errors=True,
        service_workers=service_workers,
    )
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    problems = []
    page.on("pageerror", lambda error: problems.append(f"script error: {error}"))
    page.on("response", lambda answer: _is_broken(answer) and problems.append(f"{answer.status} {answer.url}"))
    page.on("console", lambda message: _is_refusal(message.text) and problems.append(message.text))
    yield page
    context.close()
    assert not problems, f"the page reported: {problems}"


def intercept(page, pattern: str, handler) -> None:
    """Hand the open page's requests to `handler` from now on, as page.route() does.

    Chromium tells a page that is already open of its first route at its own pace: a request sent at once can still
    reach the server. A request of this function's own is repeated until the browser hands that over.
    """
    page.route(pattern, handler)
    page.route(f"**{PROBE}", lambda route: route.fulfill(status=204))
    until(page, lambda: page.evaluate("async (probe) => (await fetch(probe)).status", PROBE) == 204)


def until(page, is_so) -> None:
    """Let the page and its requests go on until is_so() holds. Raise TimeoutError after PATIENCE_MS."""
    end = time.monotonic() + PATIENCE_MS / 1000
    while not is_so():
        if time.monotonic() > end:
            raise TimeoutError("It did not come about.")
        page.wait_for_timeout(20)


def _is_refusal(text: str) -> bool:
    return "Content Security Policy" in text or "Permissions-Policy" in text


def _is_broken(answer) -> bool:
    return answer.status >= 500 or (answer.status >= 400 and "/static/" in answer.url)


@pytest.fixture
def log_in(browser_page, live_server):
    """log_in(person): give the page that person's session without filling the form."""

    def log_in(person):
        client = Client()
        client.force_login(person)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        browser_page.context.clear_cookies()
        browser_page.context.add_cookies(
            [{"name": cookie.key, "value": cookie.value, "url": live_server.url, "httpOnly": True}]
        )

    return log_in


def log_in_by_form(page, username: str, password: str, *, to: str = "/") -> None:
    """Request a page, fill the login form as a person does, and arrive at that page."""
    page.goto(f"/login/?next={to}")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"**{to}")


@pytest.fixture
def screenshot(browser_page):
    """screenshot(name): save the whole page at 1280 and at 768 px width, leave it at 1280; return both paths."""

    def screenshot(name: str) -> list[Path]:
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        paths = []
        for size in (TABLET, WIDE):
            browser_page.set_viewport_size(size)
            paths.append(SCREENSHOTS / f"{name}-{size['width']}.png")
            browser_page.screenshot(path=paths[-1], full_page=True, caret="initial")
        return paths

    return screenshot
