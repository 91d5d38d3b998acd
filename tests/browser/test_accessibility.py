"""Every page, as every role sees it, breaks no rule of WCAG 2.2 A and AA that axe-core can check.

None holds what the content security policy forbids either: `browser_page` fails for what the browser refuses.
"""

import re
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from config.groups import GROUPS
from fleet.models import Person
from tests.factories import make_person
from tests.matrix.addresses import all_addresses
from tests.matrix.scene import make_scene
from tests.services.accessibility import violations_on

LEAVES = {"logout"}
CHECKED = ("role", "type", "class", "aria-", "scope", "for", "lang", "href")


class Skeleton(HTMLParser):
    """The elements of a page with the attributes that a rule looks at, without its texts and keys."""

    def __init__(self):
        super().__init__()
        self.elements = []

    def handle_starttag(self, tag, attrs):
        said = sorted(name for name, _ in attrs if name.startswith(CHECKED))
        looks = [re.sub(r"\d+", "", value or "") for name, value in attrs if name in ("class", "role", "type")]
        self.elements.append((tag, *said, *looks))


def elements_of(html):
    parser = Skeleton()
    parser.feed(html)
    return set(parser.elements)


def people(site):
    """By role: one whom all is open to, whose pages hold most, a person of each group, one in no group, and nobody."""
    found = {"superuser": Person.objects.create_superuser("all")}
    found |= {group: make_person(group, sites=[site]) for group in GROUPS}
    return found | {"no group": make_person(sites=[site]), "nobody": None}


def pages_of(scene, person):
    """Yield path, what is shown there and HTML of every page that the person is shown.

    Shown is the page of the path, or the one of a refusal, which is the same at all paths.
    """
    client = Client()
    if person:
        client.force_login(person)
    for address in all_addresses():
        if address.is_api or address.name in LEAVES:
            continue
        path = reverse(address.name, kwargs=scene.values_of(address))
        response = client.get(path)
        if response.get("Content-Type", "").startswith("text/html") and response.status_code not in (301, 302, 405):
            html = response.content.decode()
            if "<html" in html:
                yield path, path if response.status_code == 200 else response.status_code, html


@pytest.mark.django_db(transaction=True)
def test_no_page_of_any_role_breaks_a_rule_of_wcag_2_2_aa(browser_page, log_in):
    scene = make_scene()
    known, broken, checked = {}, {}, 0
    for role, person in people(scene.site).items():
        pages = [(path, shown, elements_of(html)) for path, shown, html in pages_of(scene, person)]
        browser_page.context.clear_cookies()
        if person:
            log_in(person)
        for path, shown, elements in pages:
            if elements <= known.get(shown, set()):
                continue  # another role, or this one elsewhere, was shown every one of these elements on this page
            known[shown] = known.get(shown, set()) | elements
            browser_page.goto(path, wait_until="load")
            checked += 1
            if wrong := violations_on(browser_page):
                broken[f"{role} {path}"] = wrong
    assert checked > 90, checked
    assert not broken, "\n".join(f"{page}\n  " + "\n  ".join(lines) for page, lines in broken.items())
