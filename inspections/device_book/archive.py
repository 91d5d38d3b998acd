"""The archive that is handed out: for each machine paper, data, signed records and attached files; and a manifest."""

import hashlib
import json
import zipfile
from dataclasses import dataclass, field

from fleet.web.at_site import at_site
from inspections.device_book.content import content_of, records_of, written
from inspections.device_book.events import files_of
from inspections.models import Attachment
from inspections.reports.device_book import write_device_book

FORMAT = 1
MOST_BYTES = 1_000_000_000  # of attached files in one archive
READ_ME = """\
Device books. Each folder holds the book of one machine:

device-book.pdf     the book on paper
device-book.json    the same as data; its SHA-256 is printed on the paper
records/            the content of every signed record, exactly as it was signed
files/              the attached files that are in place, each under its number in the book

manifest.json names the size and the SHA-256 of every file here. On most systems "sha256sum FILE" prints the same.
"""


@dataclass(frozen=True, slots=True)
class MadeBook:
    """What was handed out of one machine, as it is stored."""

    machine: object
    digest: str
    files: int
    records: int


@dataclass(slots=True)
class BookArchive:
    """Writes books into an open ZIP file, one file in memory at a time; `close` adds the manifest."""

    zip: zipfile.ZipFile
    by: object
    at: object
    books: list = field(default_factory=list)
    parts: list = field(default_factory=list)
    altered: list = field(default_factory=list)

    def add(self, machine) -> MadeBook:
        """Write the book of a machine, loaded with its place."""
        folder = f"{_safe(machine.asset_number)}-{machine.pk}"
        content = content_of(machine, by=self.by, at=self.at)
        text, digest = written(content)
        with at_site(machine.site):
            self._write(f"{folder}/device-book.pdf", write_device_book(content, digest))
        self._write(f"{folder}/device-book.json", text.encode())
        records = self._records(machine, folder)
        files = self._files(machine, folder)
        self.books.append({"machine": machine.asset_number, "folder": folder, "sha256": digest})
        return MadeBook(machine, digest, files, records)

    def close(self):
        self._write("READ-ME.txt", READ_ME.encode())
        manifest = {
            "format": FORMAT, "what": "device books", "made_at": self.at.isoformat(), "made_for": str(self.by),
            "books": self.books, "files": self.parts, "altered": self.altered,
        }  # fmt: skip
        self.zip.writestr("manifest.json", json.dumps(manifest, indent=1, ensure_ascii=False))

    def _records(self, machine, folder):
        number = 0
        for inspection, text, digest in records_of(machine):
            self._write(f"{folder}/records/{inspection}.json", text.encode(), expected=digest)
            number += 1
        return number

    def _files(self, machine, folder):
        """Write the files in place. One that is not as it was attached goes with the book too, and is named."""
        number = 0
        for one in files_of(machine).in_place().with_content_there():
            content = bytes(Attachment.objects.with_content().only("content").get(pk=one.pk).content)
            self._write(f"{folder}/files/{one.sent_as}", content, expected=one.digest)
            number += 1
        return number

    def _write(self, path, content, *, expected=""):
        self.zip.writestr(path, content)
        digest = hashlib.sha256(content).hexdigest()
        self.parts.append({"path": path, "bytes": len(content), "sha256": digest})
        if expected and expected != digest:
            self.altered.append({"path": path, "why": f"altered since: the store expects SHA-256 {expected}"})


def bytes_of_files(machines):
    """How many bytes of attached files books of these machines hold."""
    return sum(sum(files_of(one).in_place().with_content_there().values_list("octets", flat=True)) for one in machines)


def _safe(name):
    return "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name)[:40]
