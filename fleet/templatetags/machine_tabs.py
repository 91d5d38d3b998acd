"""The tabs above every page of a machine."""

from django import template
from django.urls import reverse

from fleet.machine_page.tabs import machine_pages

register = template.Library()


@register.inclusion_tag("fleet/_machine_tabs.html")
def machine_tabs(machine, shown):
    """Show a tab for each page of `machine`; `shown` is the name of the address of this one."""
    tabs = [(page.label, reverse(page.url_name, args=[machine.pk]), page.url_name == shown) for page in machine_pages()]
    return {"machine": machine, "tabs": tabs}
