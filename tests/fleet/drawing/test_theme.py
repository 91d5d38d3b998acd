"""The drawings and the stylesheet share their colours, and both can be read."""

import re
from itertools import product
from pathlib import Path

import pytest

from fleet.drawing import theme

STYLESHEET = Path(__file__).parents[3] / "config" / "static" / "bobbin" / "bobbin.css"
NAMES = ("PAPER", "SHEET", "INK", "SOFT", "EDGE", "LINE", "ACCENT", "ACCENT_WASH", "ALARM", "ALARM_WASH")
GROUNDS = (theme.PAPER, theme.SHEET, theme.ACCENT_WASH, theme.ALARM_WASH)


def contrast(one, other):
    """Source: WCAG 2.2, definitions of contrast ratio and relative luminance."""

    def luminance(colour):
        parts = (colour.red, colour.green, colour.blue)
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("name", NAMES)
def test_a_colour_of_the_drawings_is_the_one_of_the_stylesheet(name):
    token = re.search(rf"--{name.lower().replace('_', '-')}: (#[0-9a-f]{{6}})", STYLESHEET.read_text())
    assert getattr(theme, name).hexval() == token[1].replace("#", "0x")


@pytest.mark.parametrize("ink, ground", list(product((theme.INK, theme.SOFT, theme.ACCENT, theme.ALARM), GROUNDS)))
def test_text_has_the_contrast_that_wcag_asks_for(ink, ground):  # Source: WCAG 2.2, 1.4.3, at least 4.5
    assert contrast(ink, ground) >= 4.5


@pytest.mark.parametrize("ground", (theme.PAPER, theme.SHEET))
def test_the_edge_of_a_control_has_the_contrast_that_wcag_asks_for(ground):  # Source: WCAG 2.2, 1.4.11, at least 3
    assert contrast(theme.EDGE, ground) >= 3
