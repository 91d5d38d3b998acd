"""Whether a PDF holds anything that acts or that hides another file.

Source of the names: ISO 32000-1:2008, 12.6.4 (actions: Launch, JavaScript, ImportData; 12.7.5 SubmitForm), 7.11.4
(embedded files), 12.7.8 (XFA forms); RichMedia: Adobe Supplement to ISO 32000, ExtensionLevel 3, 9.6.
"""

from io import BytesIO

from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

ACTS = {
    "/JavaScript": "a script",
    "/JS": "a script",
    "/Launch": "a command that starts a program",
    "/SubmitForm": "a form that sends data to another place",
    "/ImportData": "a command that reads another file",
    "/EmbeddedFile": "another file inside it",
    "/EmbeddedFiles": "another file inside it",
    "/RichMedia": "a film or another program inside it",
    "/XFA": "a form that is a program (XFA)",
}
IN_THE_OPEN = tuple(name for name in ACTS if len(name) > 4)  # shorter names occur by chance in compressed data
NAMED_BY = ("/S", "/Type", "/Subtype")
MOST_OBJECTS = 200_000
PRINT_IT = "Print it to a new PDF and attach that"


def problem_of_pdf(data: bytes) -> str:
    """Return what is wrong, as a clause; "" for a PDF that only shows something."""
    reader = PdfReader(BytesIO(data))
    if reader.is_encrypted and not reader.decrypt(""):  # one that only forbids changes opens without a password
        return "is protected by a password, so that what it holds cannot be checked. Save it without a password"
    if not len(reader.pages):
        return "is a PDF without a page"
    found = _found_in_bytes(data) or _found_in_objects(reader)
    return f"holds {found}. {PRINT_IT}" if found else ""


def _found_in_bytes(data):
    """Objects that no table of the file names are not read by the reader, but may be by another program."""
    return next((ACTS[name] for name in IN_THE_OPEN if name.encode() in data), "")


def _found_in_objects(reader):
    """Look at every object, also at those within compressed streams of objects."""
    numbers = [(number, generation) for generation, table in reader.xref.items() for number in table]
    numbers += [(number, 0) for number in reader.xref_objStm]
    if len(numbers) > MOST_OBJECTS:
        return f"more than {MOST_OBJECTS:,} objects"
    for number, generation in numbers:
        if found := _found_in(IndirectObject(number, generation, reader).get_object()):
            return found
    return _found_in(reader.trailer)


def _found_in(value):
    """Look into one object without following references to others."""
    waiting = [value]
    while waiting:
        one = waiting.pop()
        if isinstance(one, DictionaryObject):
            names = {*one.keys(), *(str(one.raw_get(key)) for key in NAMED_BY if key in one)}
            if found := next((ACTS[name] for name in sorted(names) if name in ACTS), ""):
                return found
            waiting += [one.raw_get(key) for key in one]
        elif isinstance(one, ArrayObject):
            waiting += list(one)
    return ""
