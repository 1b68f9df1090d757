"""ICC profiles of the matrix-and-curve kind: the curves to linear light and the matrix to XYZ (D50).

Profiles that hold only tables are reported as not used; the wedge in the scan does their work.
"""

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from printlore.core.measure.scan import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatrixProfile:
    """Curves and matrix of one RGB profile.

    Attributes
    ----------
    curves : three curves, each an array of samples over 0 to 1, or parameters with their kind
    to_xyz : (3, 3) array of float
    """

    curves: tuple["Curve", "Curve", "Curve"]
    to_xyz: Floats

    def tone(self, levels: int) -> NDArray[np.float32]:
        """Linear light of each code, (3, levels)."""
        codes = np.linspace(0.0, 1.0, levels)
        return np.stack([curve.light(codes) for curve in self.curves]).astype(np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """One tone curve: sampled (``kind`` -1) or parametric (kinds 0 to 4 of the standard).

    References
    ----------
    icc2022
    """

    kind: int
    numbers: Floats

    def light(self, code: Floats) -> Floats:
        """Light [1] of codes over 0 to 1."""
        if self.kind == -1:
            return np.asarray(np.interp(code, np.linspace(0.0, 1.0, len(self.numbers)), self.numbers))
        gamma, a, b, c, d, e, f = np.concatenate([self.numbers, np.zeros(7 - len(self.numbers))])
        if self.kind == 0:
            return np.asarray(code**gamma)
        base = np.maximum(a * code + b, 0.0) ** gamma
        if self.kind in (1, 2):
            offset = c if self.kind == 2 else 0.0
            return np.asarray(np.where(code >= (-b / a if a else 0.0), base + offset, offset))
        if self.kind == 3:
            return np.asarray(np.where(code >= d, base, c * code))
        return np.asarray(np.where(code >= d, base + e, c * code + f))


class _Unusable(Exception):
    """The profile is broken, or of a kind that is not used."""


_PARAMETERS = (1, 3, 4, 5, 7)


def _curve(tag: bytes) -> Curve:
    kind = tag[:4]
    if kind == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        if count == 0:
            return Curve(kind=0, numbers=np.array([1.0]))
        if count > 65536:
            raise _Unusable
        values = np.frombuffer(tag, ">u2", count, 12).astype(float)
        if count == 1:
            return Curve(kind=0, numbers=np.array([values[0] / 256.0]))
        return Curve(kind=-1, numbers=values / 65535.0)
    if kind == b"para":
        (function,) = struct.unpack_from(">H", tag, 8)
        if function >= len(_PARAMETERS):
            raise _Unusable
        values = np.frombuffer(tag, ">i4", _PARAMETERS[function], 12).astype(float) / 65536.0
        return Curve(kind=function, numbers=values)
    raise _Unusable


def _column(tag: bytes) -> Floats:
    if tag[:4] != b"XYZ ":
        raise _Unusable
    return np.frombuffer(tag, ">i4", 3, 8).astype(float) / 65536.0


def matrix_profile(profile: bytes) -> MatrixProfile | None:
    """Curves and matrix of a profile, or ``None`` if it is broken or of another kind.

    Parameters
    ----------
    profile : bytes
        As it stood in the image file.

    References
    ----------
    icc2022
    """
    try:
        if profile[36:40] != b"acsp" or profile[16:20] != b"RGB ":
            return None
        (count,) = struct.unpack_from(">I", profile, 128)
        tags: dict[bytes, bytes] = {}
        for index in range(min(count, 100)):
            name, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * index)
            tags[name] = profile[offset : offset + size]
        curves = tuple(_curve(tags[name]) for name in (b"rTRC", b"gTRC", b"bTRC"))
        matrix = np.stack([_column(tags[name]) for name in (b"rXYZ", b"gXYZ", b"bXYZ")], axis=1)
        found = MatrixProfile(curves=(curves[0], curves[1], curves[2]), to_xyz=matrix)
        with np.errstate(all="ignore"):
            tone = found.tone(256)
    except (_Unusable, KeyError, struct.error, ValueError):
        return None
    rising = np.all(np.isfinite(tone)) and np.all(np.diff(tone, axis=1) >= -1e-6) and np.all(tone[:, -1] > tone[:, 0])
    return found if rising else None
