"""The contents of Home for each group: what to do next, in sentences with figures and links."""

from config.home.account_sections import chiefs_for
from config.home.first_day import shown_steps
from config.home.items import Item, Part
from config.home.retirement_section import retirement_items
from config.home.sections import home_parts

__all__ = ["Item", "Part", "chiefs_for", "home_parts", "retirement_items", "shown_steps"]
