"""CSV downloads of lists, row by row."""

from django.http import StreamingHttpResponse

from fleet.export.cells import CsvRows


class _Echo:
    def write(self, line):
        return line


def csv_download(name, header, rows):
    """Stream rows as a CSV file that a spreadsheet opens as UTF-8."""
    file = CsvRows(_Echo())

    def lines():
        yield "\ufeff"
        yield file.write(header)
        for row in rows:
            yield file.write(row)

    response = StreamingHttpResponse(lines(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
