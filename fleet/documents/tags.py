"""The structure of a document, for those who have it read aloud: a tree of elements beside what is drawn on its pages.

What is drawn is marked piece by piece. A piece belongs to one element of the tree, or is an artifact, which a reader
skips. Source: ISO 32000-1:2008, 14.7 (logical structure) and 14.8 (tagged PDF). Reportlab writes the pages and has no
part for the tree, so that this module builds it from reportlab's own objects.
"""

from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObject, PDFPage, PDFString


@dataclass(eq=False, slots=True)
class Element:
    """One element: its role by 14.8.4, such as P, H1 or Figure; its kids are elements and (page, number) pieces."""

    role: str
    alt: str = ""
    kids: list = field(default_factory=list)

    @property
    def is_empty(self):
        return all(isinstance(kid, Element) and kid.is_empty for kid in self.kids)


class Tags:
    """Collects the elements of one document while its pages are drawn."""

    def __init__(self):
        self.root = Element("Document")
        self.owners = []  # by page: the element of each marked piece
        self._open = [self.root]
        self._is_marking = False

    def begin(self, role, alt=""):
        element = Element(role, alt)
        self._open[-1].kids.append(element)
        self._open.append(element)

    def end(self):
        self._open.pop()

    @contextmanager
    def piece(self, canvas, role, alt=""):
        """Mark what is drawn within as an element of its own; within another piece it belongs to that."""
        if self._is_marking:
            yield
            return
        self.begin(role, alt)
        canvas._code.append(f"/{role} <</MCID {self._number(canvas.page_index)}>> BDC")
        with self._marking(canvas):
            yield
        self.end()

    @contextmanager
    def artifact(self, canvas):
        """Mark what is drawn within as no part of the content: lines, grounds, heads and feet of pages."""
        if self._is_marking:
            yield
            return
        canvas._code.append("/Artifact BMC")
        with self._marking(canvas):
            yield

    @contextmanager
    def _marking(self, canvas):
        self._is_marking = True
        yield
        self._is_marking = False
        canvas._code.append("EMC")

    def _number(self, page):
        """Give the open element the next piece of a page, and return its number there."""
        while len(self.owners) <= page:
            self.owners.append([])
        self.owners[page].append(self._open[-1])
        number = len(self.owners[page]) - 1
        self._open[-1].kids.append((page, number))
        return number

    def write(self, document):
        """Add the tree to a reportlab document whose pages are complete."""
        pages, made = document.Pages.pages, {}
        named = [_name(page, document) for page in pages]
        tree = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        top = document.Reference(tree)
        tree["K"] = _References([_written(self.root, top.format(document), document, named, made)])
        numbers = []
        for index, owners in enumerate(self.owners):
            _number_page(pages[index], index)
            owned = _References([made[owner] for owner in owners])
            numbers += [index, document.Reference(owned)]
        tree["ParentTree"] = document.Reference(PDFDictionary({"Nums": PDFArray(numbers)}))
        tree["ParentTreeNextKey"] = len(self.owners)
        document.Catalog.StructTreeRoot = tree
        document.Catalog.MarkInfo = PDFDictionary({"Marked": "true"})


def _name(thing, document):
    """Return the reference to an object of the document as the file has it."""
    return document.Reference(thing).format(document)


def _written(element, parent, document, pages, made):
    """Make the dictionary of an element and of those below it, and return the reference to it; `parent` is another."""
    own = _StructElem(element, parent)
    made[element] = reference = _name(own, document)
    for kid in element.kids:
        if not isinstance(kid, Element):
            page, number = kid
            own.kids.append(b"<<\n/MCID %d /Pg %b /Type /MCR\n>>" % (number, pages[page]))
        elif not _is_empty(kid):
            own.kids.append(_written(kid, reference, document, pages, made))
    return reference


class _References(PDFObject):
    """An array of references and other parts as the file has them, as reportlab's PDFArray writes it.

    A long document has many thousands in its tree. Reportlab looks at each name and number anew, which takes many
    times as long.
    """

    def __init__(self, kids):
        self.kids = kids

    def format(self, document):
        tens = (b" ".join(self.kids[first : first + 10]) for first in range(0, len(self.kids), 10))
        return b"[ " + b" \n  ".join(tens) + b" ]"


class _StructElem(_References):
    """The dictionary of an element, as reportlab's PDFDictionary writes it."""

    def __init__(self, element, parent):
        super().__init__([])
        self.role, self.alt, self.parent = element.role, element.alt, parent

    def format(self, document):
        scope = b"/A <<\n/O /Table /Scope /Column\n>> " if self.role == "TH" else b""
        alt = b"/Alt " + PDFString(self.alt).format(document) + b" " if self.alt else b""
        kids, role = super().format(document), self.role.encode()
        return b"<<\n%b%b/K %b /P %b /S /%b /Type /StructElem\n>>" % (scope, alt, kids, self.parent, role)


def _is_empty(kid):
    return isinstance(kid, Element) and kid.is_empty and kid.role not in ("TD", "TH")


def _number_page(page, index):
    """Name the page to the tree; readers follow the structure when they step through it."""
    page.__NoDefault__ = [*PDFPage.__NoDefault__, "StructParents", "Tabs"]
    page.StructParents, page.Tabs = index, PDFName("S")


def tagged(canvas, role, alt=""):
    """Mark what is drawn within, on a canvas that collects tags; on another one do nothing."""
    tags = getattr(canvas, "tags", None)
    return tags.piece(canvas, role, alt) if tags else nullcontext()


def untagged(canvas):
    """Mark what is drawn within as an artifact, on a canvas that collects tags."""
    tags = getattr(canvas, "tags", None)
    return tags.artifact(canvas) if tags else nullcontext()


class TableTags:
    """What reportlab calls while it draws a table: opens and closes the elements of its rows and cells.

    is_data  False for a table that only arranges: its cells are no cells to a reader
    """

    def __init__(self, is_data):
        self.is_data, self._lines = is_data, None

    def __call__(self, table, event, *where):
        tags = getattr(table.canv, "tags", None)
        if tags is None:
            return
        if event in ("startBG", "startLines"):
            self._lines = tags.artifact(table.canv)
            self._lines.__enter__()
        elif event in ("endBG", "endLines"):
            self._lines.__exit__(None, None, None)
        elif self.is_data and event.startswith("start"):
            tags.begin(self._role(table, event, where))
        elif self.is_data:
            tags.end()

    @staticmethod
    def _role(table, event, where):
        if event == "startCell":
            return "TH" if where[0] < table.repeatRows else "TD"
        return {"startTable": "Table", "startRow": "TR"}[event]
