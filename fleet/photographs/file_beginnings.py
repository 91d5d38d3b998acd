"""What a file is, by its first bytes. Its name is never asked.

Source of the byte sequences: the specification of each format; HEIC and AVIF: ISO/IEC 14496-12, the box "ftyp".
"""

import re

PHOTOGRAPHS = {"JPEG", "PNG", "WebP"}
LOOKED_AT = 512
MARKUP = re.compile(rb"^(?:\xef\xbb\xbf)?\s*<(?:\?xml|!doctype|!--|svg|html|[a-z])", re.IGNORECASE)
BEGINNINGS = (
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"PK\x03\x04", "an archive (ZIP)"),
    (b"PK\x05\x06", "an archive (ZIP)"),
    (b"\x1f\x8b", "an archive (gzip)"),
    (b"BZh", "an archive (bzip2)"),
    (b"\xfd7zXZ\x00", "an archive (xz)"),
    (b"7z\xbc\xaf\x27\x1c", "an archive (7z)"),
    (b"Rar!\x1a\x07", "an archive (RAR)"),
    (b"%PDF-", "a PDF"),
    (b"%!PS", "a PostScript file"),
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\x00", "a TIFF picture or a camera raw file"),
    (b"MM\x00*", "a TIFF picture or a camera raw file"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)
HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")
HEIC = "a picture in HEIC"


def kind_of(data: bytes) -> str:
    """Return "JPEG", "PNG" or "WebP", or in words what else the file is; empty if that is not known."""
    for beginning, kind in BEGINNINGS:
        if data.startswith(beginning):
            return kind
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    if data[4:8] == b"ftyp":
        return _of_brand(data[8:12])
    return "a drawing or page in SVG, XML or HTML" if MARKUP.match(data[:LOOKED_AT]) else ""


def _of_brand(brand):
    if brand in HEIC_BRANDS:
        return HEIC
    return "a picture in AVIF" if brand in (b"avif", b"avis") else "a video"
