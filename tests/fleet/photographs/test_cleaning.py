import io
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageStat

from fleet.confined import Limits
from fleet.confined.limits import MIB, Turns
from fleet.photographs import PhotographRefused, PhotographsBusy, clean_photograph
from fleet.photographs.reencoding import reencode
from tests.fleet.photographs.pictures import (
    NO_PHOTOGRAPHS,
    SECRET,
    TURNED,
    archive,
    four_corners,
    png_that_says,
    stored,
    turned,
)

FORMATS = ("JPEG", "PNG", "WEBP")
NAME = "bellows.jpg"


def opened(content):
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def difference(one, other):
    """The mean difference of two pictures of one size, in steps of 255."""
    return max(ImageStat.Stat(ImageChops.difference(one.convert("RGB"), other.convert("RGB"))).mean)


@pytest.mark.parametrize("fmt", FORMATS)
@pytest.mark.parametrize("orientation", TURNED)
def test_every_orientation_gives_the_same_upright_picture(orientation, fmt):
    found = reencode(turned(orientation, fmt))
    clean = opened(found["content"])
    assert (clean.size, found["width"], found["height"]) == ((96, 64), 96, 64)
    assert difference(clean, four_corners()) < 6


@pytest.mark.parametrize("fmt", FORMATS)
def test_nothing_but_the_picture_is_left(fmt):
    sent = turned(6, fmt)
    assert SECRET in sent or fmt == "PNG"
    found = reencode(sent + SECRET + archive())
    for content in (found["content"], found["preview"]):
        image = opened(content)
        assert not image.getexif() and not image.getexif().get_ifd(0x8825)
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
        assert SECRET not in content and b"PK" not in content[-64:]
        assert content.endswith(b"\xff\xd9")  # the end of the picture is the end of the file


@settings(deadline=None, max_examples=40)
@given(
    width=st.integers(16, 2600), height=st.integers(16, 60), flip=st.booleans(), fmt=st.sampled_from(FORMATS),
    orientation=st.sampled_from(sorted(TURNED)),
)  # fmt: skip
def test_no_side_is_longer_than_2000_pixels_and_the_shape_stays(width, height, flip, fmt, orientation):
    upright = (height, width) if flip else (width, height)
    found = reencode(turned(orientation, fmt, four_corners(*upright)))
    scale = min(1, 2000 / max(upright))
    assert (found["width"], found["height"]) == pytest.approx([length * scale for length in upright], abs=1)
    assert opened(found["content"]).size == (found["width"], found["height"])
    assert max(opened(found["preview"]).size) == min(640, max(found["width"], found["height"]))


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "CMYK", "YCbCr", "I;16"])
def test_a_picture_of_every_colour_model_is_accepted(mode):
    image = four_corners().convert("L").convert("I").point(lambda v: v * 257) if mode == "I;16" else four_corners()
    image = image.convert(mode)
    sent = stored(image, "JPEG" if mode in ("CMYK", "YCbCr") else "PNG")
    clean = opened(reencode(sent)["content"])
    white, blue = clean.getpixel((90, 60)), clean.getpixel((5, 60))
    assert min(white) > 245 and max(blue[:2]) < 60


def test_what_is_transparent_becomes_white():
    found = reencode(stored(Image.new("RGBA", (40, 40), (255, 0, 0, 0)), "PNG"))
    assert min(opened(found["content"]).getpixel((20, 20))) > 250


def test_several_pictures_in_one_jpeg_give_the_first():
    sent = stored(four_corners(), "MPO", save_all=True, append_images=[Image.new("RGB", (96, 64))])
    assert difference(opened(reencode(sent)["content"]), four_corners()) < 6


@pytest.mark.parametrize("kind", NO_PHOTOGRAPHS)
def test_what_is_no_photograph_is_refused_with_a_sentence(kind):
    made, said = NO_PHOTOGRAPHS[kind]
    with pytest.raises(PhotographRefused) as refused:
        clean_photograph(made(), name=NAME)
    assert str(refused.value).startswith(f"“{NAME}” ")
    assert said in str(refused.value)
    assert "Accepted: a photograph as JPEG, PNG or WebP of at most 15 MB, 12,000 pixels" in str(refused.value)
    assert "Nothing was saved." in str(refused.value)


@settings(deadline=None, max_examples=60)
@given(fmt=st.sampled_from(FORMATS), part=st.floats(0.02, 0.93))
def test_a_file_that_was_cut_off_is_refused_wherever_it_was_cut(fmt, part):
    sent = stored(Image.effect_noise((64, 48), 90).convert("RGB"), fmt)
    assert reencode(sent)["width"] == 64
    assert "damaged or incomplete" in reencode(sent[: int(len(sent) * part)]).get("refused", "accepted")


@settings(deadline=None, max_examples=100)
@given(fmt=st.sampled_from(FORMATS), place=st.integers(0, 10_000), byte=st.binary(min_size=1, max_size=12))
def test_a_damaged_file_gives_a_picture_or_a_clause(fmt, place, byte):
    sent = bytearray(turned(6, fmt))
    place %= len(sent)
    sent[place : place + len(byte)] = byte
    found = reencode(bytes(sent))
    assert "refused" in found or opened(found["content"]).size == (found["width"], found["height"])


def test_the_digests_are_those_of_the_stored_bytes():
    clean = clean_photograph(turned(1, "JPEG"))
    again = clean_photograph(turned(1, "JPEG"))
    assert clean == again and clean.octets == len(clean.content)
    assert len(clean.digest) == len(clean.preview_digest) == 64


def test_an_uploaded_file_is_named_by_its_name_without_what_cannot_be_printed():
    file = SimpleNamespace(name=f"a\x00b\n{'c' * 300}.jpg", size=3, read=lambda: b"abc")
    with pytest.raises(PhotographRefused) as refused:
        clean_photograph(file)
    assert str(refused.value).startswith("“a b ccc") and len(str(refused.value)) < 320


def test_a_large_file_is_refused_before_it_is_read():
    file = SimpleNamespace(name=NAME, size=40_000_000)  # it has nothing to read
    with pytest.raises(PhotographRefused, match="has 40.0 MB"):
        clean_photograph(file)


def test_a_picture_that_takes_more_memory_than_it_may_is_refused():
    little = Limits(10, 20.0, 40 * MIB, 16 * MIB)
    sent = png_that_says(9000, 5000, bytes((9000 * 3 + 1) * 5000))
    with pytest.raises(PhotographRefused, match="more than 40 MB of memory"):
        clean_photograph(sent, limits=little)


def test_a_server_without_time_asks_for_the_photograph_again():
    with pytest.raises(PhotographsBusy, match="again shortly"):
        clean_photograph(turned(1, "JPEG"), limits=Limits(10, 0.0, 640 * MIB, 16 * MIB))


def test_a_photograph_that_waits_too_long_can_be_sent_again():
    turns = Turns(waiting=1, patience_s=0.01)
    with turns.taken(), pytest.raises(PhotographsBusy, match="again shortly"):
        clean_photograph(turned(1, "JPEG"), limits=Limits(10, 20.0, 640 * MIB, 16 * MIB, turns))
