"""Kill the web processes, the worker and the database at random moments, and look whether anything was lost.

`python -m tests.kill --rounds 200 --seed 1`. A process is killed with SIGKILL; the machine keeps its power, so what the
operating system was given is not lost. PostgreSQL runs as it does in use, with fsync and synchronous_commit on.
"""
