"""Texts that try to act: as markup, as htmx, as a formula, as reportlab's markup, by their length or their signs."""

from dataclasses import dataclass

WORD = "hostileword"  # in every payload, to recognise a page that shows one
TAG = "x-hostile"
ADDRESS = "/hostile/"  # a request for it means that a payload was executed
SIGNS = "\u202ertl\u202c\u200b\u200f\ufeff\v\f\x01\x1b\x7f\x85\ufffe\u2028"


@dataclass(frozen=True)
class Payload:
    name: str
    text: str
    keeps_to_length: bool = False  # PDFs with texts far longer than their columns take seconds each; see test_paper.py

    def fitting(self, longest, end=""):
        """Return the text with `end`, no longer than the column allows."""
        return self.text[: longest - len(end) if longest else None] + end


MARKUP = Payload(
    "markup",
    f"{WORD}\"'><{TAG} hx-get='{ADDRESS}get' hx-trigger='load'></{TAG}><script>alert(1)</script>"
    f'<img src="{ADDRESS}img" onerror="alert(1)"><b hx-post="{ADDRESS}post" hx-trigger="load, every 100ms">'
    f"</textarea></title></select></svg></style><iframe src='javascript:alert(1)'></iframe>"
    f"{{{{ 7|add:7 }}}}{{% now 'Y' %}}<!-- --><svg onload=alert(1)><{TAG}>&lt;b&gt;&amp;"
    f'" hx-get="{ADDRESS}attribute" hx-trigger="load" onfocus="alert(1)" autofocus {TAG}="1" \''
    f" onmouseover='alert(1)' {TAG}='1' javascript:alert(1) \\\" `{SIGNS}",
)
FORMULA = Payload("formula", f"=1+{WORD}|cmd|' /C calc'!A0\t\r\n@SUM(1)<font color=red><b>&<a href='{ADDRESS}'>{SIGNS}")
LONG = Payload("long", f"+{WORD}{'W' * 2000} " + f"{WORD} <i>&nbsp; " * 90, keeps_to_length=True)
PAYLOADS = (MARKUP, FORMULA, LONG)
