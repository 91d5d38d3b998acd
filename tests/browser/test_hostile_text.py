"""Hostile text before a real browser: nothing acts on any page, and what a script writes passes the policy."""

import re

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Error

from tests.factories import make_area, make_machine, make_person
from tests.hostile.filling import fill
from tests.hostile.payloads import ADDRESS, MARKUP
from tests.hostile.scene import addresses, hand_over, make_hostile_scene
from tests.matrix.scene import person_of_every_group

OF_A_MACHINE = re.compile(r".*/machines/\d+/")  # such a page has its own cover table computed where there is none


@pytest.fixture
def acts(browser_page, live_server):
    """What a page did by itself: dialogs, requests that change something, requests to elsewhere, errors."""
    found = []
    browser_page.on("dialog", lambda dialog: (found.append(f"dialog {dialog.message}"), dialog.dismiss()))
    browser_page.on("request", lambda request: _acts(request, live_server.url) and found.append(request.url))
    browser_page.on("console", lambda message: _is_refusal(message) and found.append(message.text))
    return found


def _acts(request, own):
    machine = OF_A_MACHINE.match(request.frame.url)
    asks = request.method == "GET" or (machine and request.url == f"{machine[0]}cover/first/")
    return ADDRESS in request.url or not asks or not request.url.startswith(own)


def _is_refusal(message):
    """Whether the browser reports an error other than a missing picture of a part of a page opened by itself."""
    return message.type == "error" and "404 (Not Found)" not in message.text


def html_paths(scene, person):
    client = Client()
    client.force_login(person)
    for address, path in addresses(scene):
        if not address.is_api and ".pdf" not in path:
            response = client.get(path)
            if response.status_code == 200 and response["Content-Type"].startswith("text/html"):
                yield path


def test_nothing_acts_on_any_page_that_shows_hostile_text(browser_page, log_in, acts, transactional_db):
    scene = make_hostile_scene()
    person = person_of_every_group()
    fill(MARKUP)
    hand_over(person)
    paths = list(html_paths(scene, person))
    assert len(paths) > 80
    log_in(person)
    for path in paths:
        browser_page.goto(path, wait_until="load")
        browser_page.mouse.move(300, 400)  # nothing listens to what a hand does
        assert acts == [], path
    print(f"{len(paths)} pages in the browser")


CONTROL = """mark => {
  const made = document.createElement('b');
  made.setAttribute('hx-get', '/machines/?made');
  made.setAttribute('hx-trigger', 'load');
  if (mark) made.setAttribute('data-controls', mark);
  document.getElementById('content').append(made);
  htmx.process(document.getElementById('content'));
}"""


@pytest.fixture
def open_page(browser, live_server, transactional_db):
    """A page without the watch of the others, which fails for whatever the policy refuses: here it shall refuse."""
    make_machine(area=make_area())
    client = Client()
    client.force_login(make_person("planner"))
    value = client.cookies[settings.SESSION_COOKIE_NAME].value
    context = browser.new_context(base_url=live_server.url)
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}])
    page = context.new_page()
    page.goto(reverse("fleet:machines"), wait_until="load")
    yield page
    context.close()


def test_htmx_takes_no_control_without_the_mark_of_the_page(open_page):
    requests = []
    open_page.on("request", lambda request: "/static/" not in request.url and requests.append(request.url))
    for mark in ("", "0" * 32):
        open_page.evaluate(CONTROL, mark)
    open_page.wait_for_timeout(300)
    assert requests == []
    with open_page.expect_request("**/machines/?made"):
        open_page.evaluate(CONTROL, open_page.evaluate("document.body.dataset.controls"))


WRITTEN = """text => {
  const made = document.createElement('div');
  document.getElementById('content').append(made);
  made.innerHTML = text;
  return made.innerHTML;
}"""


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("<p class='note'>ten &lt; 11</p>", '<p class="note">ten &lt; 11</p>'),
        ("<tr><td>row</td></tr>", "row"),
        ("a<script>alert(1)</script>b", "ab"),
        ("<img src=x onerror=alert(1)>", '<img src="x">'),
        ("<a href='javascript:alert(1)'>x</a>", "<a>x</a>"),
        ("<a href=' java\tscript:alert(1)'>x</a>", "<a>x</a>"),
        ("<form action='https://example.org/'>x</form>", "<form>x</form>"),
        ("<button formaction='//example.org'>x</button>", "<button>x</button>"),
        ("<iframe srcdoc='<script>alert(1)</script>'></iframe>x", "x"),
        ("<b hx-post='/x' hx-on:click='alert(1)' data-hx-get='/y'>x</b>", "<b>x</b>"),
        ("<template><i onclick='alert(1)'>x</i></template>", "<template><i>x</i></template>"),
        ("<svg><animate attributeName=href values='javascript:1'/><a xlink:href='javascript:1'>x</a></svg>",
         "<svg><a>x</a></svg>"),
        ("<math><mtext><style><img src=x onerror=alert(1)></style></mtext></math>x", "x"),
        ("<div style='position:fixed'>x</div>", "<div>x</div>"),
    ],
)  # fmt: skip
def test_what_a_script_writes_loses_everything_that_acts(open_page, text, left):
    dialogs = []
    open_page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
    assert open_page.evaluate(WRITTEN, text) == left
    assert dialogs == []


@pytest.mark.parametrize(
    "script",
    [
        "setTimeout('1')", "document.createElement('script').src = '/x.js'",
        "document.createElement('script').textContent = '1'", "trustedTypes.createPolicy('other', {})",
        "trustedTypes.createPolicy('bobbin-reading', {createHTML: text => text})",
    ],
)  # fmt: skip
def test_no_script_is_made_from_a_text_and_no_policy_beside_ours(open_page, script):
    with pytest.raises(Error, match="TypeError"):
        open_page.evaluate(f"() => {{ {script} }}")


def test_no_page_stays_in_the_memory_of_the_browser(open_page):
    open_page.locator("#id_q").press_sequentially("x")
    open_page.wait_for_url("**q=x**")
    kept = open_page.evaluate("[...Object.values(localStorage), ...Object.values(sessionStorage)].join()")
    assert "<" not in kept and "table" not in kept
    open_page.go_back(wait_until="load")
    assert "q=x" not in open_page.url


def test_the_token_of_forms_stands_in_forms_alone(client, db):
    client.force_login(make_person("planner", "technician"))
    page = client.get(reverse("fleet:machines")).content.decode()
    outside = page.replace('name="csrfmiddlewaretoken"', "")
    assert "hx-headers" not in page and "csrf" not in outside.lower().replace("csrftoken", "")
