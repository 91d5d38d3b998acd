"""The kinds of file that are stored, with the name and the type under which each is sent out again."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FileKind:
    """`ending` is that of the file's name when it is sent; `content_type` runs in no browser."""

    code: str
    title: str
    ending: str
    content_type: str


FILE_KINDS = {
    one.code: one
    for one in (
        FileKind("pdf", "PDF", "pdf", "application/pdf"),
        FileKind("jpeg", "photograph", "jpg", "image/jpeg"),
        FileKind("csv", "table (CSV)", "csv", "text/csv"),
        FileKind("text", "plain text", "txt", "text/plain"),
        FileKind(
            "xlsx", "workbook (XLSX)", "xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
        ),
    )
}
