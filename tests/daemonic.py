"""What a daemonic process runs, as those of a Celery worker are: Python's own pools refuse to start below one."""

from fleet.confined import run_confined


def confined(sender, function, argument, limits):
    """Send back what the function returns."""
    sender.send(run_confined(function, argument, limits=limits))
