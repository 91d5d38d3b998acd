"""Registers the typeface with reportlab, and measures, cuts and wraps text."""

from functools import cache
from pathlib import Path

import font_source_sans_pro
from reportlab.pdfbase.pdfmetrics import getRegisteredFontNames, registerFont, registerFontFamily, stringWidth
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "Bobbin-Regular"
SEMIBOLD = "Bobbin-Semibold"
ITALIC = "Bobbin-Italic"
_FILES = {REGULAR: "SourceSansPro-Regular.ttf", SEMIBOLD: "SourceSansPro-Semibold.ttf", ITALIC: "SourceSansPro-It.ttf"}
SVG_FONTS = {
    REGULAR: {"family": "Source Sans Pro, Helvetica, Arial, sans-serif"},
    SEMIBOLD: {"family": "Source Sans Pro, Helvetica, Arial, sans-serif", "weight": "600"},
    ITALIC: {"family": "Source Sans Pro, Helvetica, Arial, sans-serif", "style": "italic"},
}
ELLIPSIS = "…"


@cache
def register_fonts() -> None:
    """Register Regular, Semibold and Italic with reportlab; a second call does nothing."""
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    for name, file in _FILES.items():
        if name not in getRegisteredFontNames():
            registerFont(TTFont(name, str(folder / file)))
    registerFontFamily(REGULAR, normal=REGULAR, bold=SEMIBOLD, italic=ITALIC, boldItalic=SEMIBOLD)


register_fonts()


def text_width(text: str, size: float, font: str = REGULAR) -> float:
    """Return the width of a text in points at a font size in points."""
    return stringWidth(text, font, size)


def fit_text(text: str, width: float, size: float, font: str = REGULAR) -> str:
    """Return the text, shortened with an ellipsis if it is wider than `width` points; empty if nothing fits."""
    if text_width(text, size, font) <= width:
        return text
    shortest, longest = 0, len(text)
    while shortest < longest:
        middle = (shortest + longest + 1) // 2
        if text_width(text[:middle].rstrip() + ELLIPSIS, size, font) <= width:
            shortest = middle
        else:
            longest = middle - 1
    return text[:shortest].rstrip() + ELLIPSIS if shortest else ""


def wrap_text(text: str, width: float, size: float, font: str = REGULAR, lines: int = 2) -> list[str]:
    """Return the text in at most `lines` lines no wider than `width` points, the last one shortened if necessary."""
    words, found = text.split(), []
    while words and len(found) < lines - 1:
        taken = 1
        while taken < len(words) and text_width(" ".join(words[: taken + 1]), size, font) <= width:
            taken += 1
        found.append(fit_text(" ".join(words[:taken]), width, size, font))
        words = words[taken:]
    if words:
        found.append(fit_text(" ".join(words), width, size, font))
    return found
