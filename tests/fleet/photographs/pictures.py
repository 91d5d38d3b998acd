"""Small photographs and files that are none, made when a test asks for them."""

import io
import struct
import zipfile
import zlib
from functools import cache

from PIL import Image, PngImagePlugin

from fleet.photographs import CleanPhotograph
from fleet.photographs.reencoding import reencode

SECRET = b"Ward 7, bed 3"
GPS = {1: "N", 2: (48.0, 8.0, 12.5), 3: "E", 4: (11.0, 34.0, 30.0)}
TURNED = {  # the stored picture for each Exif orientation, made from the upright one. Source: Exif 3.0, 4.6.4, tag 274
    1: [], 2: ["FLIP_LEFT_RIGHT"], 3: ["ROTATE_180"], 4: ["FLIP_TOP_BOTTOM"], 5: ["TRANSPOSE"], 6: ["ROTATE_90"],
    7: ["TRANSVERSE"], 8: ["ROTATE_270"],
}  # fmt: skip


def four_corners(width=96, height=64):
    """An upright picture: red top left, green top right, blue bottom left, white bottom right."""
    image = Image.new("RGB", (width, height), "white")
    halves = (width // 2, height // 2)
    image.paste("red", (0, 0, *halves))
    image.paste("lime", (halves[0], 0, width, halves[1]))
    image.paste("blue", (0, halves[1], halves[0], height))
    return image


def stored(image, fmt="JPEG", **options):
    file = io.BytesIO()
    image.save(file, fmt, **options)
    return file.getvalue()


@cache
def clean_picture(width=96):
    """A CleanPhotograph of this width; each width gives another picture."""
    return CleanPhotograph(**reencode(stored(four_corners(width))))


def turned(orientation, fmt, image=None):
    """The upright picture as a camera stores it with this orientation, with its place and a comment."""
    image = image or four_corners()
    for step in TURNED[orientation]:
        image = image.transpose(Image.Transpose[step])
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010E] = SECRET.decode()
    exif.get_ifd(0x8825).update(GPS)
    return stored(image, fmt, exif=exif, **_with_text(fmt))


def _with_text(fmt):
    if fmt == "JPEG":
        return {"comment": SECRET, "xmp": b"<x>" + SECRET + b"</x>", "quality": 95}
    if fmt == "PNG":
        text = PngImagePlugin.PngInfo()
        text.add_text("Comment", SECRET.decode())
        return {"pnginfo": text, "icc_profile": SECRET}
    return {"xmp": SECRET, "icc_profile": SECRET, "quality": 95}


def archive():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as zipped:
        zipped.writestr("photo.jpg", stored(four_corners()))
    return file.getvalue()


def png_that_says(width, height, packed=b""):
    """A PNG whose head states a size, whatever it holds."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = [(b"IHDR", head), (b"IDAT", zlib.compress(packed)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(*part) for part in parts)


def _chunk(kind, content):
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


NO_PHOTOGRAPHS = {  # what the sentence says of each
    "an archive with a picture's name": (archive, "is an archive (ZIP)"),
    "a drawing": (lambda: b'<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>', "is a drawing or page in SVG"),
    "a drawing after a declaration": (lambda: b'\xef\xbb\xbf <?xml version="1"?><svg/>', "is a drawing or page"),
    "a page": (lambda: b"<!DOCTYPE html><img src=x>", "is a drawing or page in SVG, XML or HTML"),
    "a PDF": (lambda: b"%PDF-1.7\n" + stored(four_corners()), "is a PDF"),
    "a GIF": (lambda: stored(four_corners(), "GIF"), "is a GIF picture"),
    "a TIFF": (lambda: stored(four_corners(), "TIFF"), "is a TIFF picture"),
    "HEIC of an iPhone": (lambda: b"\x00\x00\x00\x18ftypheic" + bytes(80), "Set the camera to JPEG"),
    "AVIF": (lambda: b"\x00\x00\x00\x18ftypavif" + bytes(80), "is a picture in AVIF"),
    "a video": (lambda: b"\x00\x00\x00\x18ftypisom" + bytes(80), "is a video"),
    "a program": (lambda: b"MZ" + bytes(80), "is a program"),
    "empty": (lambda: b"", "is empty"),
    "text": (lambda: b"reading;unit\n4,kPa\n", "is of no known kind"),
    "only the beginning of a JPEG": (lambda: b"\xff\xd8\xff", "is damaged or incomplete"),
    "only the beginning of a PNG": (lambda: b"\x89PNG\r\n\x1a\n", "is damaged or incomplete"),
    "only the beginning of a WebP": (lambda: b"RIFF\x20\x00\x00\x00WEBPVP8 ", "is damaged or incomplete"),
    "a PNG without its pixels": (lambda: png_that_says(400, 300), "is damaged or incomplete"),
    "one pixel": (lambda: stored(Image.new("RGB", (1, 1)), "PNG"), "on which nothing can be seen"),
    "20,000 pixels wide": (lambda: stored(Image.new("RGB", (20_000, 20))), "is 20,000 × 20 pixels"),
    "a huge picture in few bytes": (lambda: png_that_says(60_000, 60_000), "is 60,000 × 60,000 pixels"),
    "more pixels than are read": (lambda: png_that_says(10_000, 5_001), "is 10,000 × 5,001 pixels"),
    "too many bytes": (lambda: b"\xff\xd8\xff" + bytes(15_000_000), "has 15.0 MB"),
    "40 MB": (lambda: stored(four_corners()) + bytes(40_000_000), "has 40.0 MB"),
}
