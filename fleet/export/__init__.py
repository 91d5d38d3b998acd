"""Files for spreadsheets: the only place that makes cells of CSV and XLSX files."""
