"""Files that must not be stored, and some that must, made here byte by byte."""

import io
import zipfile

from openpyxl import Workbook
from pypdf import PdfWriter
from pypdf.generic import DictionaryObject, NameObject, TextStringObject

from fleet.documents import Paper, build_pdf, text
from tests.fleet.photographs.pictures import four_corners, stored

SVG = b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


def picture_bytes():
    return stored(four_corners())


def pdf(words="Certificate 4711"):
    return build_pdf(Paper(title="Certificate", made="by hand"), [text(words)])


def _written(change):
    writer = PdfWriter(clone_from=io.BytesIO(pdf()))
    change(writer)
    file = io.BytesIO()
    writer.write(file)
    return file.getvalue()


def _with_action(**entries):
    def change(writer):
        action = {NameObject(f"/{name}"): value for name, value in entries.items()}
        writer._root_object[NameObject("/OpenAction")] = writer._add_object(DictionaryObject(action))

    return _written(change)


def _locked(**words):
    return _written(lambda writer: writer.encrypt(algorithm="RC4-128", **words))


def pdf_with_script():
    return _with_action(S=NameObject("/JavaScript"), JS=TextStringObject("app.alert('hello')"))


def pdf_with_written_round_script():
    """The name of the script is written with a number for one letter: ISO 32000-1, 7.3.5."""
    return pdf_with_script().replace(b"/JavaScript", b"/Java#53cript").replace(b"/JS", b"/J#53")


def pdf_that_starts_a_program():
    return _with_action(S=NameObject("/Launch"), F=TextStringObject("cmd.exe"))


def pdf_with_file():
    return _written(lambda writer: writer.add_attachment("inside.exe", b"MZ"))


def locked_pdf():
    return _locked(user_password="secret")


def pdf_that_forbids_changes():
    return _locked(user_password="", owner_password="secret")


def workbook(extra=(), types=None):
    book = Workbook()
    book.active.append(["Pressure", 3.5])
    file = io.BytesIO()
    book.save(file)
    if not extra and types is None:
        return file.getvalue()
    return _repacked(file.getvalue(), dict(extra), types)


def _repacked(data, extra, types):
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as read, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as write:
        for name in read.namelist():
            write.writestr(name, types(read.read(name)) if types and name == "[Content_Types].xml" else read.read(name))
        for name, content in extra.items():
            write.writestr(name, content)
    return made.getvalue()


def bomb():
    """A workbook of some 200 kB that unpacks to 200 MB."""
    return workbook({"xl/media/zeros.xml": bytes(200 * 1024 * 1024)})


def lying_bomb():
    """The same, but its parts state that they are small."""
    size = (200 * 1024 * 1024).to_bytes(4, "little")
    return bomb().replace(size, (100).to_bytes(4, "little"))


def with_macro():
    return workbook({"xl/vbaProject.bin": b"macro"})


def macro_kind():
    plain = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    return workbook(types=lambda xml: xml.replace(plain, b"application/vnd.ms-excel.sheet.macroEnabled.main+xml"))


def archive(**files):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as write:
        for name, content in files.items():
            write.writestr(name, content)
    return made.getvalue()


# what it is called, its content, and words of the refusal
REFUSED = {
    "empty": ("certificate.pdf", lambda: b"", "is empty: it has no bytes"),
    "blanks": ("note.txt", lambda: b"  \r\n\t", "nothing but blanks"),
    "drawing renamed": ("photo.png", lambda: SVG, "SVG, XML or HTML"),
    "page": ("note.txt", lambda: b"<html><script>alert(1)</script>", "SVG, XML or HTML"),
    "script": ("a.pdf", pdf_with_script, "holds a script"),
    "script written otherwise": ("a.pdf", pdf_with_written_round_script, "holds a script"),
    "launch": ("a.pdf", pdf_that_starts_a_program, "starts a program"),
    "file inside": ("a.pdf", pdf_with_file, "another file inside"),
    "locked": ("a.pdf", locked_pdf, "protected by a password"),
    "cut": ("a.pdf", lambda: pdf()[:300], "damaged or incomplete"),
    "bomb": ("a.xlsx", bomb, "unpacks to more than"),
    "bomb that lies": ("a.xlsx", lying_bomb, ""),
    "macro": ("a.xlsx", with_macro, "a program (macro)"),
    "macro kind": ("a.xlsx", macro_kind, "another kind than a plain XLSX"),
    "path in archive": ("a.xlsx", lambda: workbook({"../../etc/passwd": b"x"}), "named strangely"),
    "linked": ("a.xlsx", lambda: workbook({"xl/externalLinks/externalLink1.xml": b"x"}), "read other files"),
    "archive": ("a.xlsx", lambda: archive(a="b"), "an archive, not a workbook"),
    "program": ("photo.jpg", lambda: b"MZ\x90\x00" + bytes(60), "a program"),
    "noise": ("note.txt", lambda: bytes(range(256)), "no kind that is known"),
    "formula": ("a.csv", lambda: b"a;b\n1;=cmd|' /C calc'!A0\n", "a spreadsheet would compute"),
    "heic": ("a.jpg", lambda: b"\x00\x00\x00\x18ftypheic" + bytes(20), "HEIC"),
    "half a picture": ("a.jpg", lambda: picture_bytes()[:200], "damaged or incomplete"),
}
ACCEPTED = {
    "pdf": ("a.exe", pdf, "pdf"),
    "pdf that forbids changes": ("a.pdf", pdf_that_forbids_changes, "pdf"),
    "picture": ("certificate.pdf", picture_bytes, "jpeg"),
    "text": ("readme", lambda: "Tightened to 2 N·m.\n".encode(), "text"),
    "text of an old program": ("a.txt", lambda: "Prüfung bei 20 °C\n".encode("cp1252"), "text"),
    "table": ("a.txt", lambda: b"time;pressure\n0;-1.5\n1;+2\n", "csv"),
    "workbook": ("a.bin", workbook, "xlsx"),
}
