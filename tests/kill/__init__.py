"""Kill web nodes, workers, Redis and the database at random moments, and check that nothing was lost.

`python -m tests.kill --rounds 200 --seed 1`; two nodes: `python -m tests.kill --rounds 14 --webs 2 --workers 3
--machines 100000 --technicians 12`. A process is killed with SIGKILL; the computer keeps its power, so what the
operating system received is not lost. PostgreSQL runs as in use, with fsync and synchronous_commit on.
"""
