"""Why a run ends before its work does. None is an Exception, so that no `except Exception` of the work holds it up."""


class Interrupted(BaseException):
    """The run must end now, and its transaction with it."""


class Cancelled(Interrupted):
    """Somebody asked for the job to be cancelled."""


class Lost(Interrupted):
    """The job is no longer this attempt's: it was taken for dead, and another attempt has it or had it."""


class Stopped(Interrupted):
    """The process is asked to end; the job goes back to the waiting ones."""
