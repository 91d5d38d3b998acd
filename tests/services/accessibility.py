"""axe-core, the accessibility checker, run on the page that a real browser shows.

The script is that of the npm package axe-core, as axe-playwright-python brings it.
"""

from axe_playwright_python.sync_playwright import Axe

WCAG_22_AA = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
OPTIONS = {"runOnly": WCAG_22_AA, "resultTypes": ["violations"]}


def violations_on(page):
    """Return what breaks a rule of WCAG 2.2 A or AA on the page, one line an element: rule, element, what is wrong."""
    found = Axe().run(page, options=OPTIONS).response["violations"]
    return [
        f"{rule['id']}: {' '.join(map(str, node['target']))}: {_reasons(node)}"
        for rule in found
        for node in rule["nodes"]
    ]


def _reasons(node):
    return "; ".join(check["message"] for kind in ("any", "all", "none") for check in node[kind])
