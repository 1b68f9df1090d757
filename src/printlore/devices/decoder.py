"""The part that opens image files nobody has vouched for. Runs as a process of its own.

Talks on standard input and output, one JSON object a line: asked {"path", "out"}, it writes the
pixels to ``out`` and answers {"shape", "dtype", "profile", "resolution", "flags"} or {"problem"}.
The asker (``scans.py``) ends it when it takes too long; it caps its own memory.
"""

import base64
import json
import math
import os
import struct
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import imagecodecs
import numpy as np
import tifffile

MOST_PIXELS = 150_000_000
"""An A4 page at 1200 pixels per inch has 139 million."""
MEMORY_BYTES = 4 << 30
_LARGEST_PROFILE = 4 << 20


class Unfit(Exception):
    """The file cannot be used; the text says what and what to do."""


def _check_size(columns: int, rows: int) -> None:
    if columns <= 0 or rows <= 0:
        raise Unfit(f"its header says {columns} x {rows} pixels. Scan again.")
    if columns * rows > MOST_PIXELS:
        raise Unfit(
            f"its header says {columns} x {rows} pixels, more than the {MOST_PIXELS // 10**6} million that are read. "
            "Scan at a lower resolution, or cut the picture."
        )


def _inflate(data: bytes) -> bytes:
    return zlib.decompressobj().decompress(data, _LARGEST_PROFILE)


_TURNED: dict[int, Callable[[Any], Any]] = {
    2: lambda seen: seen[:, ::-1],
    3: lambda seen: seen[::-1, ::-1],
    4: lambda seen: seen[::-1],
    5: lambda seen: seen.swapaxes(0, 1),
    6: lambda seen: np.rot90(seen, -1),
    7: lambda seen: seen[::-1, ::-1].swapaxes(0, 1),
    8: lambda seen: np.rot90(seen),
}
"""How a picture (rows, columns, ...) that was stored in one of the orientations 2 to 8 is stood upright.

References
----------
tiff6
"""
_ORIENTATION = 274


def _exif_orientation(data: bytes) -> int:
    """The orientation in Exif data, which is laid out as a TIFF file; 1 if it says none that can be read.

    References
    ----------
    tiff6, exif
    """
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(data[:4])
    try:
        if order is not None:
            (at,) = struct.unpack_from(order + "I", data, 4)
            (count,) = struct.unpack_from(order + "H", data, at)
            for entry in range(at + 2, at + 2 + 12 * count, 12):
                tag, kind, values, value = struct.unpack_from(order + "HHIH", data, entry)
                if (tag, kind, values) == (_ORIENTATION, 3, 1):
                    return int(value)
    except struct.error:
        pass
    return 1


def read_png(data: bytes) -> dict[str, Any]:
    """Pixels and profile of a PNG file."""
    columns, rows, bits, kind = struct.unpack_from(">IIBB", data, 16)
    _check_size(columns, rows)
    if kind in (3,):
        raise Unfit("it is a palette picture, whose numbers are not tones. Save it as full RGB colour.")
    if kind not in (2, 6):
        raise Unfit("it is a grey picture. Scan in colour (RGB).")
    if bits not in (8, 16):
        raise Unfit(f"it has {bits} bits a channel. Save it with 8 or 16.")
    profile, resolution, orientation, at, ended = b"", None, 1, 8, False
    while at + 12 <= len(data):
        length, name = struct.unpack_from(">I4s", data, at)
        body = data[at + 8 : at + 8 + length]
        if name == b"iCCP":
            profile = _inflate(body[body.index(b"\0") + 2 :])
        elif name == b"pHYs" and len(body) == 9 and body[8] == 1:
            resolution = struct.unpack(">I", body[:4])[0] * 0.0254
        elif name == b"eXIf":
            orientation = _exif_orientation(body)
        elif name == b"IEND":
            ended = True
            break
        at += 12 + length
    if not ended:
        raise Unfit("it is cut short. Copy or scan it again.")
    return {
        "pixels": imagecodecs.png_decode(data),
        "profile": profile,
        "resolution": resolution,
        "orientation": orientation,
    }


def read_jpeg(data: bytes) -> dict[str, Any]:
    """Pixels and profile of a JPEG file."""
    profile, resolution, orientation, at, parts = b"", None, 1, 2, 0
    parts_of_profile: list[bytes] = []
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            raise Unfit("its header is broken. Copy or scan it again.")
        marker, length = data[at + 1], struct.unpack_from(">H", data, at + 2)[0]
        body = data[at + 4 : at + 2 + length]
        if marker in range(0xC0, 0xD0) and marker not in (0xC4, 0xC8, 0xCC):
            rows, columns, parts = struct.unpack_from(">HHB", body, 1)
            _check_size(columns, rows)
            break
        if marker == 0xE0 and body[:5] == b"JFIF\0":
            unit, across = struct.unpack_from(">BH", body, 7)
            resolution = {1: float(across), 2: across * 2.54}.get(unit)
        elif marker == 0xE1 and body[:6] == b"Exif\0\0":
            orientation = _exif_orientation(body[6:])
        elif marker == 0xE2 and body[:12] == b"ICC_PROFILE\0":
            parts_of_profile.append(body[14:])
        at += 2 + length
    if parts == 4:
        raise Unfit("it is a CMYK picture, made for a press. Save it as RGB.")
    if parts != 3:
        raise Unfit("it is not a colour picture. Scan in colour (RGB).")
    if data.rfind(b"\xff\xd9") < 0:
        raise Unfit("it is cut short. Copy or scan it again.")
    profile = b"".join(parts_of_profile)[:_LARGEST_PROFILE]
    return {
        "pixels": imagecodecs.jpeg_decode(data),
        "profile": profile,
        "resolution": resolution,
        "orientation": orientation,
    }


_OTHER_KINDS = {
    0: "it is a grey picture. Scan in colour (RGB).",
    1: "it is a grey picture. Scan in colour (RGB).",
    3: "it is a palette picture, whose numbers are not tones. Save it as full RGB colour.",
    5: "it is a CMYK picture, made for a press. Save it as RGB.",
    8: "it is a Lab picture. Save it as RGB.",
}


def read_tiff(path: str) -> dict[str, Any]:
    """Pixels and profile of the first page of a TIFF or BigTIFF file."""
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        if not isinstance(page, tifffile.TiffPage):
            raise Unfit("its first page cannot be found. Scan again.")
        kind = int(page.photometric)
        _check_size(page.imagewidth, page.imagelength)
        if kind in _OTHER_KINDS:
            raise Unfit(_OTHER_KINDS[kind])
        if kind not in (2, 6):
            raise Unfit(f"its pixels are of a kind ({kind}) that is not read here. Save it as RGB.")
        if kind == 6 and int(page.compression) not in (6, 7):
            raise Unfit("it holds video-like colour (YCbCr). Save it as RGB.")
        if page.bitspersample not in (8, 16) or int(page.sampleformat) != 1:
            raise Unfit("it does not hold 8 or 16 bit whole numbers. Save it with 16 bits a channel.")
        if page.samplesperpixel > 16 or page.imagedepth != 1:
            raise Unfit("it holds more than a picture. Save it as plain RGB.")
        _check_size(page.imagewidth * max(page.samplesperpixel, 3) // 3, page.imagelength)
        end = os.path.getsize(path)
        pieces = list(zip(page.dataoffsets, page.databytecounts, strict=False))
        if not pieces or any(offset + count > end or count <= 0 for offset, count in pieces):
            raise Unfit("it is cut short. Copy or scan it again.")
        pixels = page.asarray(maxworkers=1)
        if int(page.planarconfig) == 2 and pixels.ndim == 3:
            pixels = np.moveaxis(pixels, 0, -1)
        if pixels.dtype not in (np.uint8, np.uint16):
            raise Unfit("it does not hold 8 or 16 bit whole numbers. Save it with 16 bits a channel.")
        profile, orientation = page.tags.get(34675), page.tags.get(_ORIENTATION)
        across, unit = page.tags.get(282), page.tags.get(296)
        resolution = None
        if across is not None and isinstance(across.value, tuple) and across.value[1]:
            per_inch = {2: 1.0, 3: 2.54}.get(int(unit.value) if unit is not None else 2)
            resolution = across.value[0] / across.value[1] * per_inch if per_inch else None
        more = sum(1 for other in list(file.pages)[1:20] if not getattr(other, "is_reduced", False))
        return {
            "pixels": pixels,
            "profile": bytes(profile.value)[:_LARGEST_PROFILE] if profile is not None else b"",
            "resolution": resolution,
            "orientation": orientation.value if orientation is not None else 1,
            "flags": ["more_pages"] if more else [],
        }


def read_raw(path: str, *, half: bool) -> dict[str, Any]:
    """Linear light of a camera's raw file; what is done to it is said in ``raw.py``."""
    import rawpy  # 0.3 s that scans need not wait for

    try:
        with rawpy.imread(path) as file:
            _check_size(file.sizes.raw_width, file.sizes.raw_height)
            pixels = file.postprocess(
                demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
                half_size=half,
                gamma=(1, 1),
                no_auto_bright=True,
                no_auto_scale=True,
                use_camera_wb=False,
                use_auto_wb=False,
                user_wb=[1, 1, 1, 1],
                output_color=rawpy.ColorSpace.raw,
                output_bps=16,
                user_flip=0,
            )
            most = float(file.white_level) - float(min(file.black_level_per_channel))
    except rawpy.LibRawError as problem:
        raise Unfit(f"LibRaw cannot read it as a camera's raw file ({problem}). Save it as a DNG.") from None
    if most <= 0:
        raise Unfit("its white level is not above its black level. Save it as a DNG.")
    stretched = np.minimum(pixels.astype(np.float32) * np.float32(65535.0 / most) + np.float32(0.5), 65535.0)
    return {"pixels": stretched.astype(np.uint16), "profile": b"", "resolution": None}


def decode(path: str, out: str, raw: str = "") -> dict[str, Any]:
    """Answer for one file."""
    with open(path, "rb") as file:
        head = file.read(16)
    if not head:
        raise Unfit("it is empty (0 bytes). Copy or scan it again.")
    if raw:
        read = read_raw(path, half=raw == "half")
    elif head[:8] == b"\x89PNG\r\n\x1a\n":
        read = read_png(Path(path).read_bytes())
    elif head[:3] == b"\xff\xd8\xff":
        read = read_jpeg(Path(path).read_bytes())
    elif head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        read = read_tiff(path)
    else:
        raise Unfit("it is not a TIFF, PNG or JPEG picture. Save the scan as a 16-bit TIFF.")
    pixels = read["pixels"]
    if pixels.ndim != 3 or pixels.shape[2] < 3:
        raise Unfit("it is not a colour picture. Scan in colour (RGB).")
    upright = _TURNED.get(read.get("orientation", 1))
    pixels = pixels if upright is None else upright(pixels)
    flags = read.get("flags", [])
    if pixels.shape[2] > 3:
        flags.append("alpha_dropped")
    np.ascontiguousarray(pixels[..., :3].astype(pixels.dtype.newbyteorder("="), copy=False)).tofile(out)
    resolution = read["resolution"]
    return {
        "shape": [*pixels.shape[:2], 3],
        "dtype": "uint8" if pixels.dtype.itemsize == 1 else "uint16",
        "profile": base64.b64encode(read["profile"]).decode(),
        "resolution": float(resolution) if resolution and math.isfinite(resolution) and resolution > 0 else None,
        "flags": flags,
    }


def _cap_memory() -> None:
    if sys.platform != "win32":
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> None:
    """Answer until standard input ends."""
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)  # a library that prints must not spoil the answers
    _cap_memory()
    for line in sys.stdin:
        asked = json.loads(line)
        try:
            answer = decode(asked["path"], asked["out"], asked["raw"])
        except Unfit as problem:
            answer = {"problem": str(problem)}
        except MemoryError:
            answer = {"problem": "it asks for more memory than a scan may have. Scan at a lower resolution."}
        except Exception as problem:
            # Any failure of a decoding library on a hostile file is the same thing to the printer.
            kind = type(problem).__name__
            answer = {"problem": f"its contents are damaged ({kind}). Copy or scan it again."}
        answers.write(json.dumps(answer) + "\n")
        answers.flush()


if __name__ == "__main__":
    main()
