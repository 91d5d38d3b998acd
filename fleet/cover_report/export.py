"""The file formats of the cover report: the writer of each.

A writer takes the report, the machines with their place, and for whom it is made, and returns bytes.
"""

from fleet.cover_report.paper import write_pdf
from fleet.cover_report.sheets import write_csv, write_xlsx

EXPORTS = {"csv": write_csv, "xlsx": write_xlsx, "pdf": write_pdf}
