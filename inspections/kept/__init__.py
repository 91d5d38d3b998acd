"""Rows that follow from the records of a machine: kept, and renewed by the action that changes what they follow from.

keeping.py     how rows of any kind are renewed, compared and filled
ways.py        which machines a written row concerns
due_dates.py   what became of each due date; work_figures.py, the figures above the work list
completions.py what each signature proved, stored with it: compared
reviews.py     the retirement review of each machine; ranking.py, the places among them
kinds.py       when the rows are renewed: by actions, and after migrations
job.py         at night: dated rows for the new day, the others compared and mended
"""
