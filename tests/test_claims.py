"""No text claims more of a test, a safety feature or a record than is done.

A test shows what was measured on one day, under its challenge. No safety feature stops every cause of a hazard.
"""

import re

import pytest

from tests.test_glossary import bench_texts, entries, file_texts, form_texts, model_texts, scripts, sentences, templates

BANNED = {
    r"prov(?:e|es|ed|ing|en)\b(?! (?:nothing|the records)\b)": "say what was tested, measured or shown",
    r"guarantee[sd]?": "say what it does",
    r"ensur(?:e|es|ed|ing)": "say what it does",
    r"assur(?:e|es|ed|ing)": "say what it does",
    r"(?:measured|tested|checked) (?:at|in|by|on) every inspection": "name the procedure that tests it",
    r"(?:makes?|making) (?:sure|certain)": "check",
    r"confirms? that (?:every|all|no)\b": "check, test or look, and what",
    r"every safety feature (?:works|is tested)": "name those that are tested",
    r"(?:fully|completely|entirely|perfectly|absolutely) safe\b|fail-?safe\b|foolproof\b": "say what was tested",
}
# text that holds such a word for a reason
ALLOWED = ("not proved",)  # of a result: it claims less, not more
CLAIM = re.compile("|".join(rf"\b(?:{words})" for words in BANNED), re.IGNORECASE)
TAKEN_OUT = re.compile("|".join(map(re.escape, ALLOWED)), re.IGNORECASE)


def claims(texts):
    """Return each banned claim of (where, text) pairs."""
    found = []
    for where, text in texts:
        plain = TAKEN_OUT.sub("…", " ".join(str(text).split()))
        found += [f"{where}: “{match[0]}” in “{plain[:140]}”" for match in CLAIM.finditer(plain)]
    return found


@pytest.mark.parametrize(
    "texts", [templates, scripts, model_texts, form_texts, file_texts, entries, bench_texts, sentences]
)
def test_no_text_claims_more_than_is_done(texts):
    assert claims(texts()) == []


@pytest.mark.parametrize(
    "text",
    [
        "This step proves that the device works.",
        "The ratio device ensures 25 % of oxygen.",
        "A pass guarantees a safe machine.",
        "The ratio is measured at every inspection.",
        "Confirm that every safety feature works within its limits.",
        "Once signed, the machine is completely safe.",
    ],
)
def test_a_claim_of_each_kind_is_found(text):
    assert claims([("somewhere", text)])
