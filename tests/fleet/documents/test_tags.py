"""Every document is tagged: what a reader hears is the content in order, with headings, tables and pictures in words.

Source of what is checked: ISO 32000-1:2008, 14.7 and 14.8.
"""

from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream
from reportlab.graphics.shapes import Drawing, Rect
from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFDocument, PDFName, PDFString

from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    bullets,
    caution_box,
    data_table,
    facts,
    marked,
    picture,
    side_by_side,
    text,
    title_block,
)
from fleet.documents.tags import Element, _written
from inspections.reports.label import Label, write_label
from inspections.reports.tag import Tag, write_tag

SHOWN = {b"Tj", b"TJ", b"'", b'"', b"f", b"f*", b"S", b"B", b"B*", b"b", b"s", b"Do", b"sh"}


def a_document(rows=3):
    paper = Paper(title="A paper", made="today", reference="X-1")
    drawing = Drawing(60, 20)
    drawing.add(Rect(0, 0, 60, 20))
    story = [
        *title_block("A title", "A lead"),
        facts([("Serial", "S 1"), ("Built", 2010)], paper.width),
        Heading("First section"),
        *bullets(["One", "Two"]),
        data_table(["Step", "Value"], [[f"Step {row}", str(row)] for row in range(rows)], [100, 100], numbers=(1,)),
        Heading("Below it", level=1),
        side_by_side(picture(drawing, "Limit bar of x"), [text("Words"), marked("fail")], [200, 200]),
        picture(drawing, ""),
        caution_box(["Careful."], paper.width),
    ]
    return build_pdf(paper, story)


class Tree:
    """The tree of a PDF, read by another library than the one that wrote it."""

    def __init__(self, content):
        self.reader = PdfReader(BytesIO(content))
        self.catalog = self.reader.trailer["/Root"]
        self.root = self.catalog["/StructTreeRoot"]
        self.pages = {page.indirect_reference.idnum: number for number, page in enumerate(self.reader.pages)}

    def elements(self, node=None):
        node = node or self.root["/K"][0].get_object()
        yield node
        for kid in node.get("/K", []):
            kid = kid.get_object()
            if kid.get("/Type") == "/StructElem":
                yield from self.elements(kid)

    def roles(self):
        return [element["/S"][1:] for element in self.elements()]

    def pieces(self):
        """(page, number) of every piece of content that the tree owns."""
        for element in self.elements():
            for kid in element.get("/K", []):
                kid = kid.get_object()
                if kid.get("/Type") == "/MCR":
                    yield self.pages[kid.raw_get("/Pg").idnum], kid["/MCID"], element

    def marked_on(self, page):
        """The numbers of the pieces on a page; fail for anything shown outside a piece or an artifact."""
        inside, numbers = [], []
        for operands, operator in ContentStream(page.get_contents(), self.reader).operations:
            if operator == b"BDC":
                inside.append(operands[1]["/MCID"])
                numbers.append(operands[1]["/MCID"])
            elif operator == b"BMC":
                inside.append("artifact")
            elif operator == b"EMC":
                inside.pop()
            elif operator in SHOWN:
                assert inside, f"{operator} is shown outside the structure"
            assert len(inside) <= 1, "one piece lies within another"
        assert not inside
        return numbers


@pytest.mark.parametrize("rows", [1, 3, 120])
def test_all_that_is_shown_belongs_to_the_tree_or_is_an_artifact(rows):
    tree = Tree(a_document(rows))
    owned = [(page, number) for page, number, _ in tree.pieces()]
    shown = [(n, number) for n, page in enumerate(tree.reader.pages) for number in tree.marked_on(page)]
    assert sorted(owned) == sorted(shown) and len(owned) == len(set(owned))


@pytest.mark.parametrize("rows", [3, 120])
def test_the_parent_tree_leads_from_each_piece_to_its_element(rows):
    tree = Tree(a_document(rows))
    numbers = tree.root["/ParentTree"]["/Nums"]
    parents = {numbers[i]: numbers[i + 1].get_object() for i in range(0, len(numbers), 2)}
    for page, number, element in tree.pieces():
        index = tree.reader.pages[page]["/StructParents"]
        assert parents[index][number].get_object() is element.get_object()


def test_the_tree_names_headings_tables_and_pictures():
    tree = Tree(a_document())
    roles = tree.roles()
    assert [role for role in roles if role.startswith("H")] == ["H1", "H2", "H3"]
    assert (roles.count("Table"), roles.count("TR"), roles.count("TH"), roles.count("TD")) == (1, 4, 2, 6)
    figures = [element["/Alt"] for element in tree.elements() if element["/S"] == "/Figure"]
    assert figures == ["Limit bar of x", "fail"]  # the one without words decorates
    assert tree.catalog["/MarkInfo"]["/Marked"] and tree.catalog["/Lang"] == "en-GB"
    assert tree.reader.metadata.title == "A paper" and tree.catalog["/ViewerPreferences"]["/DisplayDocTitle"]


def test_every_row_of_a_table_has_as_many_cells_and_a_head_on_every_page():
    tree = Tree(a_document(120))
    tables = [element for element in tree.elements() if element["/S"] == "/Table"]
    assert len(tables) == sum("Step Value" in " ".join(page.extract_text().split()) for page in tree.reader.pages) > 2
    for table in tables:
        rows = [[cell.get_object()["/S"] for cell in row.get_object()["/K"]] for row in table["/K"]]
        assert rows[0] == ["/TH", "/TH"] and all(row == ["/TD", "/TD"] for row in rows[1:])


def test_what_is_read_aloud_comes_in_the_order_of_the_content():
    tree = Tree(a_document())
    numbers = [number for _, number, _ in tree.pieces()]
    assert numbers == sorted(numbers)


def test_the_same_content_still_gives_the_same_bytes():
    assert a_document() == a_document()


TAG = Tag("OH-020", "Model", "The valve sticks.", "Ana Ferro", date(2026, 11, 2), "https://example.org/l/abc", "4711")
SMALL = {
    "label": lambda: write_label(
        Label("OH-020", "Model of some length", "https://example.org/l/abc", status="withdrawn")
    ),
    "tag of A6": lambda: write_tag(TAG, "a6"),
    "tag of a label printer": lambda: write_tag(TAG, "label"),
}


@pytest.mark.parametrize("write", SMALL.values(), ids=SMALL)
def test_labels_and_tags_are_tagged_as_documents_are(write):
    tree = Tree(write())
    owned = [(page, number) for page, number, _ in tree.pieces()]
    assert sorted(owned) == [(0, number) for number in sorted(tree.marked_on(tree.reader.pages[0]))]
    figures = [element["/Alt"] for element in tree.elements() if element["/S"] == "/Figure"]
    assert figures == ["Code of the address https://example.org/l/abc"]
    assert tree.roles()[:2] == ["Document", "H1"] and tree.catalog["/MarkInfo"]["/Marked"]


@pytest.mark.parametrize(("role", "alt", "kids"), [("P", "", 1), ("TH", "", 0), ("Figure", "A (limit) bar", 23)])
def test_an_element_is_written_as_reportlab_writes_a_dictionary(role, alt, kids):
    document, ours = PDFDocument(), Element(role, alt)
    page = PDFDictionary({"Type": PDFName("Page")})
    place = document.Reference(page)
    parent = document.Reference(PDFDictionary({}))
    document.Pages.pages = [page]
    ours.kids = [(0, number) for number in range(kids)]
    for number, name in enumerate(document.idToObject, start=1):
        document.idToObjectNumberAndVersion[name] = (number, 0)
    pieces = [PDFDictionary({"Type": PDFName("MCR"), "Pg": place, "MCID": number}) for number in range(kids)]
    said = {"Type": PDFName("StructElem"), "S": PDFName(role), "P": parent, "K": PDFArray(pieces)}
    said |= {"Alt": PDFString(alt)} if alt else {}
    said |= {"A": PDFDictionary({"O": PDFName("Table"), "Scope": PDFName("Column")})} if role == "TH" else {}
    made, pages = {}, [place.format(document)]
    reference = _written(ours, parent.format(document), document, pages, made)
    assert made == {ours: reference}
    own = document.idToObject[f"R{int(reference.split()[0])}"]
    assert own.format(document) == PDFDictionary(said).format(document)
