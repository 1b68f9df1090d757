"""A three-channel probe that says its reading as a line of text: typed, pasted, or over a serial port.

A line holds three numbers, parted by commas, semicolons, spaces or tabs; words before or between
them are passed over, so "R 0.71 G 0.84 B 1.02" and "0,71;0,84;1,02" both do.
"""

import re
import time
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import serial

from printlore.core.memory.evidence import NegativeReading
from printlore.errors import UnreadableFile, ValueOutOfRange

_LONGEST_LINE = 500


class ProbeUnit(StrEnum):
    """What the numbers on a probe's line are."""

    DENSITY = "density"
    TRANSMITTANCE = "transmittance"
    LIGHT = "light"


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """How a probe's line is to be understood.

    Attributes
    ----------
    name : str
        Its source in the memory: each has a reading matrix of its own.
    unit : ProbeUnit
        Densities, transmittances (0 to 1), or light in any unit against ``empty``.
    empty : (3,) floats or None
        Light with the empty carrier; needed for LIGHT.
    decimal_comma : bool
        Numbers are written with a comma; the line must then be parted by something else.
    standard_error : float
        Of each density [1].
    """

    name: str = "probe"
    unit: ProbeUnit = ProbeUnit.DENSITY
    empty: tuple[float, float, float] | None = None
    decimal_comma: bool = False
    standard_error: float = 0.01


def parse_line(line: str, *, decimal_comma: bool = False) -> tuple[float, float, float]:
    """Three numbers of a line.

    Raises
    ------
    ValueOutOfRange
        If it does not hold exactly three numbers.
    """
    line = line[:_LONGEST_LINE]
    if decimal_comma:
        line = re.sub(r"(?<=\d),(?=\d)", ".", line)
    numbers = re.findall(r"(?<![\w.])[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?(?![\w])", line)
    if len(numbers) != 3:
        raise ValueOutOfRange(
            f'The line "{line.strip()[:80]}" holds {len(numbers)} numbers; a probe gives three: red, green, blue.'
        )
    red, green, blue = (float(number) for number in numbers)
    return red, green, blue


def reading_from_line(line: str, probe: Probe) -> NegativeReading:
    """Reading of the negative from a probe's line: density against the empty carrier.

    Raises
    ------
    ValueOutOfRange
        If it does not hold three usable numbers.
    """
    values = np.array(parse_line(line, decimal_comma=probe.decimal_comma))
    if probe.unit is not ProbeUnit.DENSITY:
        if probe.unit is ProbeUnit.LIGHT:
            if probe.empty is None or min(probe.empty) <= 0:
                raise ValueOutOfRange(
                    f'Probe "{probe.name}" gives light; read it once with the empty carrier at the same settings first.'
                )
            values = values / np.array(probe.empty)
        if not np.all(values > 0):
            raise ValueOutOfRange(
                f'Probe "{probe.name}" reads {line.strip()[:80]}: light must be above 0. Is the lamp on?'
            )
        values = -np.log10(values)
    red, green, blue = (float(v) for v in values)
    return NegativeReading(density=(red, green, blue), source=probe.name, standard_error=probe.standard_error)


def read_probe(port: str, probe: Probe, *, ask: str = "", speed: int = 9600, seconds: float = 3.0) -> NegativeReading:
    """One reading from a serial port.

    Parameters
    ----------
    port : str
        Such as /dev/ttyUSB0.
    ask : str
        Sent first, for probes that wait to be asked.
    speed : int
        [baud]
    seconds : float
        How long to wait for a line.

    Raises
    ------
    UnreadableFile
        If the port cannot be opened or nothing comes.
    ValueOutOfRange
        If the line does not hold three usable numbers.
    """
    try:
        with serial.Serial(port, speed, timeout=0.05) as line:
            if ask:
                line.reset_input_buffer()
                line.write(ask.encode() + b"\n")
            until, got = time.monotonic() + seconds, b""
            while time.monotonic() < until and len(got) < _LONGEST_LINE:
                got += line.read(64)
                whole, end, _ = got.lstrip(b"\r\n").partition(b"\n")
                if end:
                    return reading_from_line(whole.decode("ascii", errors="replace"), probe)
    except (serial.SerialException, OSError) as problem:
        raise UnreadableFile(
            f"Port {port} cannot be used: {problem}. Is the probe plugged in and switched on?"
        ) from None
    raise UnreadableFile(f"Nothing came from port {port} in {seconds:g} s. Check the probe, its cable and its speed.")
