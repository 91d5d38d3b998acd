"""The tag that renders things alike once."""

from dataclasses import dataclass, field

import pytest
from django.template import Context, Template, TemplateSyntaxError


@dataclass
class Seen:
    """A thing that counts how often its word is read."""

    key: str
    read: list = field(default_factory=list)

    @property
    def word(self):
        self.read.append(self.key)
        return f"<{self.key}>"


def test_each_is_rendered_in_its_place_and_those_alike_once():
    read = []
    rows = [[Seen(letter, read) for letter in word] for word in ("abba", "bac")]
    shown = Template(
        "{% load cover %}{% for row in rows %}{% each_alike cell in row %}{{ cell.word }}{% end_alike %}.{% endfor %}"
    )
    assert shown.render(Context({"rows": rows})) == "&lt;a&gt;&lt;b&gt;&lt;b&gt;&lt;a&gt;.&lt;b&gt;&lt;a&gt;&lt;c&gt;."
    assert sorted(read) == ["a", "b", "c"]


def test_nothing_is_remembered_beyond_one_page():
    shown = Template("{% load cover %}{% each_alike cell in row %}{{ cell.word }}{{ other }}{% end_alike %}")
    first, second = (shown.render(Context({"row": [Seen("a")], "other": other})) for other in "12")
    assert (first, second) == ("&lt;a&gt;1", "&lt;a&gt;2")


@pytest.mark.parametrize("tag", ["each_alike cell", "each_alike cell in a b"])
def test_another_form_is_refused(tag):
    with pytest.raises(TemplateSyntaxError, match="expected “each_alike cell in row.cells”"):
        Template(f"{{% load cover %}}{{% {tag} %}}{{% end_alike %}}")
