"""Sound files: spoken prompts as 8-bit mu-law WAV (g711) in, 16-bit WAV out.

Mu-law has no codec delay, so a prompt begins on the sample it should, in the page and here.
"""

import io
import struct
import wave
from pathlib import Path

import numpy as np
import numpy.typing as npt

from printlore.errors import UnreadableFile

MU_LAW = 7
"""Format number of mu-law in a WAV header (RFC 2361)."""

Samples = npt.NDArray[np.float32]


def _decoding() -> npt.NDArray[np.int32]:
    code = ~np.arange(256, dtype=np.int32) & 0xFF
    exponent, mantissa = (code >> 4) & 7, code & 15
    size = (((mantissa << 3) + 132) << exponent) - 132
    return np.where(code & 0x80, -size, size).astype(np.int32)


MU_LAW_VALUES = _decoding()
"""(256,) value of each code on the 16-bit scale; the largest is 32124 (Table 2a of g711, times 4)."""


def encode_mu_law(samples: Samples) -> bytes:
    """(n,) samples within -1 to 1 to the nearest code each."""
    order = np.argsort(MU_LAW_VALUES, kind="stable")
    values = MU_LAW_VALUES[order]
    scaled = np.asarray(samples, dtype=float) * 32768
    above = np.clip(np.searchsorted(values, scaled), 1, 255)
    nearer = np.where(scaled - values[above - 1] <= values[above] - scaled, above - 1, above)
    return order[nearer].astype(np.uint8).tobytes()


def write_mu_law(path: Path, samples: Samples, rate: int) -> None:
    """Write (n,) samples within -1 to 1 as a mono mu-law WAV."""
    data = encode_mu_law(samples)
    header = struct.pack("<HHIIHHH", MU_LAW, 1, rate, rate, 1, 8, 0)
    fact = struct.pack("<I", len(data))
    padded = data + b"\x00" * (len(data) % 2)
    chunks = b"".join(
        name + struct.pack("<I", size) + body
        for name, size, body in ((b"fmt ", 18, header), (b"fact", 4, fact), (b"data", len(data), padded))
    )
    path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks)


def read_mu_law(path: Path) -> tuple[Samples, int]:
    """(n,) samples within -1 to 1 of a mono mu-law WAV, and samples a second.

    Raises
    ------
    UnreadableFile
        If the file is not that.
    """
    raw = path.read_bytes()
    rate, at = 0, 12
    if raw[:4] != b"RIFF" or raw[8:12] != b"WAVE":
        raise UnreadableFile(f"{path.name} is not a WAV file. Make the prompts again.")
    while at + 8 <= len(raw):
        name, size = raw[at : at + 4], int.from_bytes(raw[at + 4 : at + 8], "little")
        body = raw[at + 8 : at + 8 + size]
        if name == b"fmt ":
            form, channels, rate = struct.unpack("<HHI", body[:8])
            if (form, channels) != (MU_LAW, 1):
                raise UnreadableFile(f"{path.name} is not mono mu-law. Make the prompts again.")
        elif name == b"data" and rate:
            return (MU_LAW_VALUES[np.frombuffer(body, dtype=np.uint8)] / 32768).astype(np.float32), rate
        at += 8 + size + size % 2
    raise UnreadableFile(f"{path.name} has no sound in it. Make the prompts again.")


def wav_bytes(samples: Samples, rate: int) -> bytes:
    """(n,) samples within -1 to 1 as a 16-bit mono WAV that any player plays."""
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate)
        out.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return file.getvalue()
