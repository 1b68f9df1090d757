"""Random numbers by name: the same words give the same numbers, in any order of calls."""

import zlib

import numpy as np
from scipy.special import ndtri

from printroom.spectra import Floats

_STEP = np.uint64(0x9E3779B97F4A7C15)
_FIRST, _SECOND = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)


def generator(seed: int, *names: object) -> np.random.Generator:
    """A generator for this seed and these names."""
    words = [zlib.crc32(str(name).encode()) for name in names]
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, *words])))


def normals(count: int, seed: int, *names: object) -> Floats:
    """``count`` standard normal numbers for this seed and these names.

    A counter through the splitmix64 finaliser (steele2014, doi:10.1145/2660193.2660195) and the
    inverse normal: a generator is ten times slower to set up than to use, and a scoreboard sets up very many.
    """
    text = "\x1f".join(map(str, (seed, *names))).encode()
    key = zlib.crc32(text) | zlib.crc32(text[::-1] + b"+") << 32
    z = np.uint64(key) + _STEP * np.arange(1, count + 1, dtype=np.uint64)
    z = (z ^ (z >> np.uint64(30))) * _FIRST
    z = (z ^ (z >> np.uint64(27))) * _SECOND
    z = z ^ (z >> np.uint64(31))
    return np.asarray(ndtri(((z >> np.uint64(11)) + 0.5) * 2.0**-53))
