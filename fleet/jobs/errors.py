"""Why a run ends early. None is an Exception, so that no `except Exception` of a job catches it."""


class Interrupted(BaseException):
    """The run must end now, and its transaction must roll back."""


class Cancelled(Interrupted):
    """Somebody cancelled the job."""


class Lost(Interrupted):
    """This attempt counted as dead, and another attempt has taken the job over."""


class Stopped(Interrupted):
    """The process must end; the job is queued again."""
