"""Image files of every sort become scans, or a clear refusal. Nothing hangs, nothing is cut to 8 bits."""

import io
import struct
import zlib

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from printlore.core.flags import Flag
from printlore.core.measure.scan import Box
from printlore.devices.icc import matrix_profile
from printlore.devices.scans import read_scan
from printlore.errors import PrintloreError, UnreadableFile

RNG = np.random.default_rng(3)
DEEP = RNG.integers(0, 65536, (60, 80, 3), dtype=np.uint16)
SRGB = imagecodecs.cms_profile("srgb")
WIDE = imagecodecs.cms_profile(
    "rgb",
    whitepoint=[0.3127, 0.329, 1.0],
    primaries=[0.64, 0.33, 1.0, 0.21, 0.71, 1.0, 0.15, 0.06, 1.0],
    gamma=2.2,
)
"""Of a wider gamut, as cameras offer it."""


def tiff(pixels=DEEP, **choices):
    choices.setdefault("photometric", "rgb")
    out = io.BytesIO()
    tifffile.imwrite(out, pixels, **choices)
    return out.getvalue()


@pytest.mark.parametrize(
    "choices",
    [
        {},
        {"compression": "zlib", "predictor": True},
        {"compression": "lzw"},
        {"tile": (32, 32)},
        {"bigtiff": True},
        {"byteorder": ">"},
        {"rowsperstrip": 7},
    ],
    ids=str,
)
def test_sixteen_bits_stay_sixteen(choices):
    assert np.array_equal(read_scan(tiff(**choices)).pixels, DEEP)


def test_planar_tiff_comes_channel_last():
    data = tiff(np.ascontiguousarray(np.moveaxis(DEEP, -1, 0)), planarconfig="separate")
    assert np.array_equal(read_scan(data).pixels, DEEP)


def test_sixteen_bit_png_stays_sixteen():
    scan = read_scan(imagecodecs.png_encode(DEEP))
    assert np.array_equal(scan.pixels, DEEP)
    assert scan.bits == 16


def test_jpeg_is_read_and_its_eight_bits_flagged():
    flat = np.full((60, 80, 3), (180, 120, 60), np.uint8)
    scan = read_scan(imagecodecs.jpeg_encode(flat, level=95))
    assert np.abs(scan.pixels.astype(int) - flat).max() <= 2
    assert Flag.EIGHT_BITS in scan.flags


def test_alpha_is_dropped_with_a_word():
    data = tiff(np.dstack([DEEP, DEEP[..., :1]]), extrasamples=["unassalpha"])
    scan = read_scan(data)
    assert np.array_equal(scan.pixels, DEEP)
    assert Flag.ALPHA_DROPPED in scan.flags
    png = read_scan(imagecodecs.png_encode(np.dstack([DEEP, DEEP[..., :1]])))
    assert np.array_equal(png.pixels, DEEP)
    assert Flag.ALPHA_DROPPED in png.flags


def test_first_of_several_pages_is_read_with_a_word():
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        writer.write(DEEP, photometric="rgb")
        writer.write(DEEP[::-1], photometric="rgb")
    scan = read_scan(out.getvalue())
    assert np.array_equal(scan.pixels, DEEP)
    assert Flag.MORE_PAGES in scan.flags


def test_resolution_is_pixels_per_inch():
    assert read_scan(tiff(resolution=(600, 600), resolutionunit="INCH")).resolution == pytest.approx(600)
    assert read_scan(tiff(resolution=(100, 100), resolutionunit="CENTIMETER")).resolution == pytest.approx(254)


@pytest.mark.parametrize("profile", [SRGB, WIDE], ids=["usual", "wide"])
def test_matrix_profile_gives_the_xyz_of_a_colour_management_library(profile):
    """Against the LittleCMS inside imagecodecs, its ICC profile connection space (XYZ, D50)."""
    scan = read_scan(tiff(iccprofile=profile))
    ours = scan.light(Box(left=0, top=0, right=80, bottom=60)).astype(float) @ scan.to_xyz.T
    theirs = imagecodecs.cms_transform(
        DEEP, profile, imagecodecs.cms_profile("xyz"), colorspace="rgb", outcolorspace="xyz", outdtype=np.float64
    )
    assert np.abs(ours - theirs).max() < 2e-3


def test_profile_curve_is_that_of_the_standard():
    """IEC 61966-2-1: code 0.04045 is 0.0031308 of light; code 0.5 is 0.21404."""
    tone = matrix_profile(SRGB).curves[0].light(np.array([0.04045, 0.5, 1.0]))
    assert tone == pytest.approx([0.0031308, 0.21404, 1.0], abs=2e-5)


def test_no_profile_and_a_broken_one_are_told_apart():
    assert Flag.NO_PROFILE in read_scan(tiff()).flags
    broken = read_scan(tiff(iccprofile=SRGB[:150]))
    assert Flag.PROFILE_NOT_USED in broken.flags
    assert broken.tone is None


def cmyk():
    out = io.BytesIO()
    Image.new("CMYK", (40, 30)).save(out, "TIFF")
    return out.getvalue()


@pytest.mark.parametrize("form", ["TIFF", "PNG", "JPEG"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_is_read_as_every_viewer_shows_it(form, orientation):
    """What stands left, and which step of a strip comes first, must not depend on how the file was stored (Pillow)."""
    y, x = np.mgrid[0:48, 0:64]
    stored = Image.fromarray(np.stack([4 * x, 5 * y, x + y], axis=-1).astype(np.uint8))
    exif = Image.Exif()
    exif[274] = orientation
    out = io.BytesIO()
    stored.save(out, form, exif=exif, **({"quality": 100, "subsampling": 0} if form == "JPEG" else {}))
    seen = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(out.getvalue()))), dtype=int)
    assert np.abs(read_scan(out.getvalue()).pixels.astype(int) - seen).max() <= (3 if form == "JPEG" else 0)


@pytest.mark.parametrize("exif", [b"", b"MM", b"II*\0\xff\xff\xff\xff", b"MM\0*\0\0\0\x08\xff\xff"])
def test_exif_that_cannot_be_read_turns_nothing(exif):
    data = imagecodecs.jpeg_encode(DEEP.astype(np.uint8))
    part = b"Exif\0\0" + exif
    data = data[:2] + b"\xff\xe1" + struct.pack(">H", len(part) + 2) + part + data[2:]
    assert read_scan(data).size == (80, 60)


def palette(form):
    out = io.BytesIO()
    Image.new("P", (40, 30)).save(out, form)
    return out.getvalue()


def cmyk_jpeg():
    out = io.BytesIO()
    Image.new("CMYK", (40, 30)).save(out, "JPEG")
    return out.getvalue()


def grey_png():
    out = io.BytesIO()
    Image.new("L", (40, 30)).save(out, "PNG")
    return out.getvalue()


def huge_png():
    header = struct.pack(">IIBBBBB", 60000, 60000, 16, 2, 0, 0, 0)
    chunk = b"IHDR" + header
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))


def huge_tiff():
    """A 60,000 x 60,000 header over a few bytes."""
    data = bytearray(tiff(DEEP, byteorder="<"))
    (at,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, at)
    for index in range(count):
        entry = at + 2 + 12 * index
        if struct.unpack_from("<H", data, entry)[0] in (256, 257):
            struct.pack_into("<HI", data, entry + 2, 4, 1)
            struct.pack_into("<I", data, entry + 8, 60000)
    return bytes(data)


REFUSED = {
    "empty": (b"", r"empty \(0 bytes\). Copy or scan it again"),
    "text": (b"not a picture at all", "not a TIFF, PNG or JPEG picture. Save the scan as a 16-bit TIFF"),
    "truncated TIFF": (tiff()[:9000], "cut short. Copy or scan it again"),
    "truncated packed TIFF": (tiff(compression="zlib")[:-9000], "cut short|damaged"),
    "truncated PNG": (imagecodecs.png_encode(DEEP)[:-900], "cut short. Copy or scan it again"),
    "truncated JPEG": (imagecodecs.jpeg_encode(DEEP.astype(np.uint8))[:-900], "cut short. Copy or scan it again"),
    "60000 x 60000 PNG": (huge_png(), "60000 x 60000 pixels, more than the 150 million"),
    "60000 x 60000 TIFF": (huge_tiff(), "60000 x 60000 pixels, more than the 150 million"),
    "CMYK TIFF": (cmyk(), "CMYK picture, made for a press. Save it as RGB"),
    "CMYK JPEG": (cmyk_jpeg(), "CMYK picture, made for a press. Save it as RGB"),
    "palette TIFF": (palette("TIFF"), "palette picture, whose numbers are not tones. Save it as full RGB"),
    "palette PNG": (palette("PNG"), "palette picture, whose numbers are not tones. Save it as full RGB"),
    "grey TIFF": (tiff(DEEP[..., 0], photometric="minisblack"), "grey picture. Scan in colour"),
    "grey PNG": (grey_png(), "grey picture. Scan in colour"),
    "float TIFF": (tiff(DEEP.astype(np.float32)), "does not hold 8 or 16 bit whole numbers. Save it with 16 bits"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_unfit_files_are_refused_in_words(case):
    data, words = REFUSED[case]
    with pytest.raises(UnreadableFile, match=words) as caught:
        read_scan(data, name="strip 3.tif")
    assert '"strip 3.tif"' in str(caught.value)


def test_missing_file_is_named(tmp_path):
    with pytest.raises(UnreadableFile, match=r"There is no file .*nowhere\.tif"):
        read_scan(tmp_path / "nowhere.tif")


def test_a_slow_file_is_given_up_and_the_next_one_read(monkeypatch):
    monkeypatch.setattr("printlore.devices.scans.DECODE_SECONDS", 1e-5)
    with pytest.raises(UnreadableFile, match=r"took more than 1e-05 s\. Save it without"):
        read_scan(tiff(np.zeros((2000, 2000, 3), np.uint16), compression="zlib"))
    monkeypatch.undo()
    assert read_scan(tiff()).size == (80, 60)


def test_a_reader_that_dies_is_started_again(monkeypatch):
    from printlore.devices import scans

    read_scan(tiff())
    scans._decoder._process.kill()
    scans._decoder._process.wait()
    assert read_scan(tiff()).size == (80, 60)


SEEDS = (
    tiff(compression="zlib"),
    tiff(tile=(16, 16)),
    imagecodecs.png_encode(DEEP),
    imagecodecs.jpeg_encode(DEEP.astype(np.uint8)),
)


@settings(max_examples=120, deadline=6000)
@given(
    seed=st.sampled_from(SEEDS),
    edits=st.lists(st.tuples(st.integers(0, 1 << 20), st.binary(min_size=1, max_size=6)), max_size=8),
    cut=st.floats(0.05, 1.0),
)
def test_damaged_files_give_a_scan_or_a_printlore_error_and_never_hang(seed, edits, cut):
    data = bytearray(seed[: int(len(seed) * cut)])
    for at, new in edits:
        # Headers are where damage bites: half of the edits go there.
        place = at % len(data) if at % 2 else at % min(len(data), 300)
        data[place : place + len(new)] = new
    try:
        outcome = read_scan(bytes(data)).name
    except PrintloreError as problem:
        outcome = str(problem)
    assert outcome == "scan" or "cannot be used" in outcome


@settings(max_examples=200, deadline=1000)
@given(edits=st.lists(st.tuples(st.integers(0, len(SRGB) - 1), st.integers(0, 255)), max_size=12), cut=st.floats(0, 1))
def test_damaged_profiles_are_used_or_not_used(edits, cut):
    data = bytearray(SRGB)
    for at, value in edits:
        data[at] = value
    found = matrix_profile(bytes(data[: int(len(data) * cut)]))
    assert found is None or np.all(np.isfinite(found.tone(256)))
