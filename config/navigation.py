"""The navigation of the page shell: the pages that this person may open."""

from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from config.help.topics import topic_of

ENTRIES = [
    ("Home", "home", None),
    ("Machines", "fleet:machines", "fleet.view_machine"),
    ("Work", "inspections:work", "inspections.view_inspection"),
    ("Findings", "inspections:findings", "inspections.view_finding"),
    ("Cover", "fleet:cover", "fleet.view_machine"),
    ("Retirement", "inspections:review", "inspections.view_review"),
    ("Instruments", "fleet:instruments", "fleet.view_instrument"),
    ("Library", "library", "inspections.view_procedure"),
]

# What lies under a page though its address does not begin with that of the page.
ALSO_UNDER = {
    "fleet:cover": ("/alterations/",),
    "inspections:findings": ("/notices/", "/incidents/", "/fault-reports/"),
    "inspections:review": ("/money/",),
}


def navigation(request):
    """Context processor: `nav`, a list of label, url, is_current; `help_url`, the help on the page's own job.

    The list is made when the page shell asks for it: the fragment that answers a reading has none.
    """
    if not getattr(request, "user", None) or not request.user.is_authenticated:
        return {"nav": []}
    return {"nav": SimpleLazyObject(lambda: _entries(request)), "help_url": _help_url(request.resolver_match)}


def _entries(request):
    return [
        {"label": label, "url": reverse(name), "is_current": _is_current(request.path, name)}
        for label, name, permission in ENTRIES
        if permission is None or request.user.has_perm(permission)
    ]


def _help_url(match):
    topic = topic_of(match.view_name) if match else None
    return reverse("help_topic", args=[topic.slug]) if topic else reverse("help")


def _is_current(path, name):
    url = reverse(name)
    return path == url or (url != "/" and path.startswith((url, *ALSO_UNDER.get(name, ()))))
