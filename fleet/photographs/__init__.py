"""Photographs from outside become clean JPEG: small, upright and without metadata. Plain Python.

clean = clean_photograph(request.FILES["photograph"])    # raises PhotographRefused, whose message is fit for a page
clean.content, clean.digest, clean.width, clean.height, clean.octets, clean.preview, clean.preview_digest
"""

from fleet.photographs.cleaning import (
    ACCEPTED,
    LARGEST_BYTES,
    CleanPhotograph,
    PhotographRefused,
    PhotographsBusy,
    clean_photograph,
    digest_of_bytes,
)

__all__ = [
    "ACCEPTED",
    "LARGEST_BYTES",
    "CleanPhotograph",
    "PhotographRefused",
    "PhotographsBusy",
    "clean_photograph",
    "digest_of_bytes",
]
