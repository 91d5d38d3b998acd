"""Help inside the program: one page for each job, opened from the pages where that job is done."""
