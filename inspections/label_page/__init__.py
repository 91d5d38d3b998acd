"""The public page that the code of a label opens: codes, limits, forms without a login, and what the page may show."""
