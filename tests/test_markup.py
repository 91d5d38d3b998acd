"""Text becomes markup in few named places; everything else is escaped by the templates."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from fleet.web.inline_svg import NotADrawing, inline_svg
from tests.test_house import ROOT, tracked

SOURCES = ("config/**.py", "fleet/**.py", "inspections/**.py")
MAKES_MARKUP = {
    "SafeData", "SafeString", "SafeText", "__html__", "format_html", "format_html_join", "html_safe", "json_script",
    "mark_safe",
}  # fmt: skip
# (file, name) -> why it is allowed there.
EXCEPTIONS = {
    (
        "config/form_renderer.py",
        "format_html",
    ): "patterns are constants, values are escaped; its test compares Django's",
    ("config/form_renderer.py", "format_html_join"): "patterns are constants, values are escaped, as above",
    (
        "fleet/templatetags/table_rows.py",
        "format_html_join",
    ): "patterns are constants, values are escaped; its test compares a template's",
    ("fleet/templatetags/table_rows.py", "format_html"): "patterns are constants, values are escaped, as above",
    ("fleet/web/markup.py", "SafeString"): "the type of what is returned; its test compares Django's for any value",
    ("fleet/web/markup.py", "format_html"): "every value is escaped, as above",
    ("fleet/web/markup.py", "format_html_join"): "every value and the separator are escaped, as above",
    ("fleet/web/inline_svg.py", "SafeString"): "the type of what is returned",
    ("fleet/web/inline_svg.py", "mark_safe"): "drawings, checked against a list of elements and attributes first",
    ("fleet/tables/cells.py", "format_html"): "patterns are constants, values are escaped; held below",
    ("fleet/tables/cells.py", "format_html_join"): "patterns are constants, values are escaped; held below",
    ("fleet/tables/files.py", "SafeData"): "asked for, to know a cell of the table's own from a person's text",
}
UNESCAPED = re.compile(r"\|\s*(?:safe|safeseq)\b|autoescape\s+off|\{%\s*filter\s+safe")
SINKS = re.compile(
    r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|createContextualFragment|DOMParser|srcdoc|setHTML"
    r"|\beval\(|new Function|setAttribute\(\s*[\"']on|trustedTypes"
)
SINK_FILES = {
    "config/static/bobbin/trusted.js": "the policy itself",
    "config/static/bobbin/offline/page.js": "a policy of one constant, the address of the service worker",
}


def names_in(tree):
    """Yield every name that a module imports, reads as an attribute or defines."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr
        elif isinstance(node, ast.alias):
            yield node.name.rpartition(".")[2]
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name


@cache
def modules():
    return {str(path.relative_to(ROOT)): ast.parse(path.read_text()) for path in tracked(*SOURCES)}


def test_markup_is_made_in_the_named_places_alone():
    found = {(name, used) for name, tree in modules().items() for used in names_in(tree) if used in MAKES_MARKUP}
    assert found == EXCEPTIONS.keys()


def test_every_pattern_of_a_cell_is_a_constant():
    tree = ast.parse((ROOT / "fleet/tables/cells.py").read_text())
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and "format_html" in ast.unparse(node.func)]
    patterns = [call.args[:2] if "join" in ast.unparse(call.func) else call.args[:1] for call in calls]
    assert len(calls) > 10
    assert all(isinstance(part, ast.Constant) for parts in patterns for part in parts)


def test_nothing_is_unescaped_in_templates_nor_in_templates_within_the_code():
    texts = {path: path.read_text() for path in tracked("*.html", *SOURCES)}
    assert len(texts) > 100
    assert [str(path.relative_to(ROOT)) for path, text in texts.items() if UNESCAPED.search(text)] == []


def test_scripts_of_ours_make_no_markup_from_text():
    found = {str(path.relative_to(ROOT)) for path in tracked("*.js") if SINKS.search(path.read_text())}
    assert found == SINK_FILES.keys()


def test_every_control_of_htmx_in_a_template_bears_the_mark():
    controls = re.compile(r"<[^<>]*\shx-(?:get|post|put|patch|delete|boost)=(?:[^<>]|<[^>]*>)*")
    found = [match[0] for path in tracked("*.html") for match in controls.finditer(path.read_text())]
    assert len(found) == 23
    assert all('data-controls="{{ controls }}"' in element for element in found)


def test_csv_and_workbooks_are_written_in_one_module():
    used = {
        name
        for name, tree in modules().items()
        for node in ast.walk(tree)
        if ast.unparse(node) in ("csv.writer", "csv.DictWriter", "WriteOnlyCell", "Workbook", "openpyxl.Workbook")
    }
    assert used == {"fleet/export/cells.py"}


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>", '<g onload="alert(1)"/>', '<a href="javascript:alert(1)"><text>x</text></a>',
        '<image href="https://example.org/x.png"/>', '<foreignObject/>', '<use href="#x"/>', '<style>*{}</style>',
        '<g hx-get="/x"/>', '<g style="fill:red"/>', '<animate attributeName="href"/>', "<unclosed>", "&nothing;",
    ],
)  # fmt: skip
def test_a_drawing_that_holds_more_than_shapes_and_words_is_refused(inside):
    start, end = '<svg xmlns="http://www.w3.org/2000/svg">', "</svg>"
    assert inline_svg(f"{start}<text>&lt;script&gt;</text>{end}")
    with pytest.raises(NotADrawing):
        inline_svg(f"{start}{inside}{end}")


def test_the_file_of_exceptions_names_files_that_exist():
    assert all((ROOT / Path(name)).is_file() for name, _ in EXCEPTIONS)
