"""Files that people attach as evidence: accepted by what they hold, never by what they are called. Plain Python.

accepted = accept_file(request.FILES["file"], largest=10_000_000)    # raises FileRefused; its message is fit for a page
accepted.content, accepted.kind, accepted.name, accepted.digest, accepted.received_digest, accepted.octets
"""

from inspections.attachments.accepting import AcceptedFile, FileRefused, FilesBusy, accept_file, accepted_words
from inspections.attachments.file_kinds import FILE_KINDS, FileKind

__all__ = ["FILE_KINDS", "AcceptedFile", "FileKind", "FileRefused", "FilesBusy", "accept_file", "accepted_words"]
