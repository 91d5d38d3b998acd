"""What can be refused. Every message says what, shows the value and says what to do."""

from fleet.errors import Refused


class StageRefused(Refused):
    """A change of stage that does not follow from the present stage."""


class TimeRefused(StageRefused):
    """A signature, countersignature or amendment earlier than the newest one at its site."""


class AlreadySigned(StageRefused):
    """Somebody signed first."""


class RecordFrozen(Refused):
    """A signed record is not changed, only amended."""


class RecordUnreadable(Refused):
    """The content of a signed record was altered so that nothing can be read from it."""


class ReadingRefused(Refused):
    """A reading that cannot be kept: not a number, a unit that the field does not take, an unusable instrument."""

    def __init__(self, message, slot=None):
        super().__init__(message)
        self.slot = slot


class InstrumentRefused(Refused):
    """An instrument that cannot be part of a test set: out of calibration, or not at the site."""


class ReadingContested(ReadingRefused):
    """Another reading was entered in the same place unseen. That reading is current; nothing was lost."""


class FileOvertaken(Refused):
    """A file whose places hold other readings by now than its page showed."""


class RemarkContested(Refused):
    """Somebody wrote a remark meanwhile, which stays: `remark`."""

    def __init__(self, remark):
        self.remark = remark
        super().__init__(f"{remark.by} has meanwhile written here: “{remark.text}”")


class QuestionSettled(Refused):
    """A question about a reading that is answered already, or whose reading was replaced."""


class NotReadyToSign(Refused):
    """What still prevents a signature, one sentence each in `reasons`."""

    def __init__(self, reasons):
        self.reasons = list(reasons)
        super().__init__(" ".join(self.reasons))


class GroundsChanged(Refused):
    """What the page showed is no longer so. `changes` lists what differs; empty for a form that says nothing of it."""

    def __init__(self, changes):
        self.changes = list(changes)
        super().__init__("Nothing was decided, because the data shown on this page has changed. Check it again.")


class SecondPersonNeeded(Refused):
    """A decision that one person does not take alone; the message says why."""


class ReleaseRefused(Refused):
    """A machine that may not return to service yet; `reasons` says what is missing."""

    def __init__(self, reasons):
        self.reasons = list(reasons)
        super().__init__(" ".join(self.reasons))


class ProcedureError(Refused):
    """A procedure file that cannot be loaded: names the file, the step and what is accepted."""


class DraftContested(Refused):
    """Somebody changed the same piece of a draft meanwhile, which stays; nothing was saved."""

    def __init__(self, draft, name):
        self.draft = draft
        super().__init__(
            f"{draft.changed_by} has meanwhile changed {name}. Nothing of yours was saved. Compare what is stored now, "
            "shown below, then save again."
        )


class TooMany(Refused):
    """More than is accepted about one machine; `seconds` until the next one, None if somebody must act first."""

    def __init__(self, message, seconds=None):
        self.seconds = seconds
        super().__init__(message)


class NoticeRefused(Refused):
    """A notice, criterion or item that cannot be entered, worked on or closed as asked."""


class IncidentRefused(Refused):
    """A serious incident that cannot be opened or closed as asked."""


class DecommissioningRefused(Refused):
    """An item of a decommissioning that cannot be answered as given."""


class AttachmentRefused(Refused):
    """A file that cannot be attached, withdrawn or removed as asked."""
