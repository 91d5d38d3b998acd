"""Labels and tags: one page of any size, drawn by hand, tagged as every document is."""

from collections.abc import Callable
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from fleet.characters import encodable
from fleet.documents.tags import Tags


class SmallPage(Canvas):
    """A canvas of one page. What is drawn on it stands in `tagged` or `untagged`."""

    page_index = 0

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.tags = Tags()

    def save(self):
        self.showPage()
        self.tags.write(self._doc)
        super().save()


def small_pdf(size: tuple[float, float], *, title: str, subject: str, draw: Callable[[SmallPage], None]) -> bytes:
    """Return a PDF of one page of `size`, width and height in points, on which `draw` has drawn."""
    buffer = BytesIO()
    canvas = SmallPage(buffer, pagesize=size, invariant=1, lang="en-GB")
    canvas.setTitle(encodable(title))
    canvas.setAuthor("Bobbin")
    canvas.setSubject(subject)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    draw(canvas)
    canvas.save()
    return buffer.getvalue()
