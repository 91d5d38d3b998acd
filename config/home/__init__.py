"""Home: what each group has to do next, in sentences with figures and links."""

from config.home.items import Item, Part
from config.home.parts import home_parts
from config.home.retirement import retirement_items

__all__ = ["Item", "Part", "home_parts", "retirement_items"]
