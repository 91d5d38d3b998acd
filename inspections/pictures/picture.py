"""One picture with its table: what pages and papers need of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing

from fleet.drawing import to_svg
from fleet.web.inline_svg import inline_svg

PAGE_WIDTH, PAGE_TEXT = 896.0, 13.0  # pixels; the stylesheet shows no picture wider


@dataclass(frozen=True, slots=True)
class Picture:
    """`draw` is a function of width and text size in points; `words` describe the picture.

    code   identifies it on a page
    about  what is counted, as a sentence below the title
    empty  what to do where there is nothing to show; such a picture has no rows
    """

    code: str
    title: str
    about: str
    draw: Callable[[float, float], Drawing]
    words: str
    header: Sequence[str]
    rows: Sequence[Sequence[object]]
    empty: str

    @property
    def svg(self):
        """The picture for a page."""
        return inline_svg(to_svg(self.draw(PAGE_WIDTH, PAGE_TEXT), self.title, self.words, self.code))
