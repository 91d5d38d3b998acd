"""Files for spreadsheets: every cell of every CSV and XLSX file that Bobbin writes is made here."""
