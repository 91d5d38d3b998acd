"""Answers that are files: the type follows from the end of the name. CSV files of lists go out row by row."""

from django.http import HttpResponse, StreamingHttpResponse
from django.utils.http import content_disposition_header

from fleet.export.cells import CsvRows

CONTENT_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "jpg": "image/jpeg",
    "json": "application/json; charset=utf-8",
    "pdf": "application/pdf",
    "toml": "application/toml; charset=utf-8",
    "txt": "text/plain; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


class _Echo:
    def write(self, line):
        return line


def file_response(name, content, *, is_shown=False):
    """Answer with a file, to be stored under its name, or shown by the browser."""
    return _named(HttpResponse(content, content_type=_type_of(name)), name, is_shown=is_shown)


def csv_download(name, header, rows):
    """Stream rows as a CSV file that a spreadsheet opens as UTF-8."""
    file = CsvRows(_Echo())

    def lines():
        yield "\ufeff"
        yield file.write(header)
        for row in rows:
            yield file.write(row)

    return _named(StreamingHttpResponse(lines(), content_type=_type_of(name)), name)


def _type_of(name):
    return CONTENT_TYPES[name.rpartition(".")[2]]


def _named(response, name, *, is_shown=False):
    response["Content-Disposition"] = content_disposition_header(not is_shown, name)
    return response
