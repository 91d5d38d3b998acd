"""The work of the separate process that decodes a photograph and writes it anew (fleet/confined).

Only pixels go from the file into the new JPEG: they are copied into a picture that never had metadata.
"""

from contextlib import contextmanager
from io import BytesIO

from PIL import Image, JpegImagePlugin, MpoImagePlugin, PngImagePlugin, WebPImagePlugin  # noqa: F401

FORMATS = ("JPEG", "PNG", "WEBP")  # a JPEG of several pictures (MPO) is opened as JPEG and gives its first
MOST_SIDE = 12_000  # pixels
MOST_PIXELS = 50_000_000
LEAST_SIDE = 16
SIDE = 2000  # of the photograph that is stored
PREVIEW_SIDE = 640
QUALITY = 82
PREVIEW_QUALITY = 75
ORIENTATION = 0x0112  # Source: Exif 3.0, 4.6.4, tag 274; how the stored rows and columns are to be turned
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def reencode(data: bytes, *, ask=None) -> dict:
    """Return the photograph and its preview as JPEG, or {"refused": what is wrong, as a clause}.

    ask  is not used; every function that runs confined is called with it
    """
    with _size_is_checked_here():
        try:
            return _reencode(data)
        except MemoryError:
            raise
        except Exception:  # noqa: BLE001  decoders raise almost anything for a damaged file; the process ends anyway
            return {"refused": "is damaged or incomplete: the picture in it cannot be read to its end"}


def _reencode(data):
    image = Image.open(BytesIO(data), formats=FORMATS)
    if problem := _size_problem(*image.size):
        return {"refused": problem}
    image.draft(None, (SIDE, SIDE))  # a large JPEG is decoded at a fraction of its size
    image.load()
    turn = TURNS.get(_orientation(image))
    clean = _shrunk(_opaque(image), SIDE)
    clean = clean.transpose(turn) if turn is not None else clean
    content, preview = _jpeg(clean, QUALITY), _jpeg(_shrunk(clean, PREVIEW_SIDE), PREVIEW_QUALITY)
    return {"content": content, "width": clean.width, "height": clean.height, "preview": preview}


@contextmanager
def _size_is_checked_here():
    """Have Pillow read the head of a picture of any size, so that the refusal can name the size."""
    before, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
    try:
        yield
    finally:
        Image.MAX_IMAGE_PIXELS = before


def _size_problem(width, height):
    size = f"is {width:,} × {height:,} pixels"
    if max(width, height) > MOST_SIDE or width * height > MOST_PIXELS:
        return f"{size}, which is too large. Set the camera to a smaller picture size"
    if min(width, height) < LEAST_SIDE:
        return f"{size}, on which nothing can be seen"
    return ""


def _orientation(image):
    try:
        return image.getexif().get(ORIENTATION)
    except Exception:  # noqa: BLE001  damaged metadata does not spoil the picture
        return None


def _opaque(image):
    """Return the picture in RGB; what is transparent becomes white, 16-bit grey becomes 8-bit."""
    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    if image.has_transparency_data:
        image = image.convert("RGBA")
        under = Image.new("RGBA", image.size, "white")
        under.alpha_composite(image)
        image = under
    return image.convert("RGB")


def _shrunk(image, side):
    """Return a copy that fits a square of `side` pixels, without any metadata."""
    if max(image.size) > side:
        scale = side / max(image.size)
        size = tuple(max(1, round(length * scale)) for length in image.size)
        image = image.resize(size, Image.Resampling.LANCZOS, reducing_gap=2.0)
    clean = Image.new("RGB", image.size)
    clean.paste(image)
    return clean


def _jpeg(image, quality):
    file = BytesIO()
    image.save(file, "JPEG", quality=quality, optimize=True)
    return file.getvalue()
