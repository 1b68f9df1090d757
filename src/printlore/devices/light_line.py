"""A three-channel probe that says its reading as a line of text: typed, pasted, or over a serial port.

A line holds three numbers, parted by commas, semicolons, spaces or tabs; words before or between
them are passed over, so "R 0.71 G 0.84 B 1.02" and "0,71;0,84;1,02" both do.
"""

import re
import time

import serial

from printlore.core.figure import Figure
from printlore.core.memory.evidence import NegativeReading
from printlore.errors import UnreadableFile, ValueOutOfRange

_LONGEST_LINE = 500


def parse_line(line: str, *, decimal_comma: bool = False) -> tuple[float, float, float]:
    """Three numbers of a line.

    Raises
    ------
    ValueOutOfRange
        If it does not hold exactly three numbers.
    """
    line = line[:_LONGEST_LINE].replace("\u2212", "-").replace("\u2013", "-")
    if decimal_comma:
        line = re.sub(r"(?<=\d),(?=\d)", ".", line)
    numbers = re.findall(r"(?<![\w.])[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?(?![\w])", line)
    if len(numbers) != 3:
        raise ValueOutOfRange(
            f'The line "{line.strip()[:80]}" holds {len(numbers)} numbers; a probe gives three: red, green, blue.'
        )
    red, green, blue = (float(number) for number in numbers)
    return red, green, blue


def reading_from_line(line: str, *, decimal_comma: bool = False) -> NegativeReading:
    """Reading of the negative from a probe's line: densities against the empty carrier. Raises ValueOutOfRange."""
    return NegativeReading(density=parse_line(line, decimal_comma=decimal_comma), source="probe", standard_error=0.01)


def read_probe(
    port: str, *, ask: str = "", speed: int = 9600, seconds: float = 3.0, decimal_comma: bool = False
) -> NegativeReading:
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
                    return reading_from_line(whole.decode("ascii", errors="replace"), decimal_comma=decimal_comma)
    except (serial.SerialException, OSError) as problem:
        raise UnreadableFile(
            f"Port {port} cannot be used: {problem}. Is the probe plugged in and switched on?"
        ) from None
    raise UnreadableFile(
        f"Nothing came from port {port} in {Figure(seconds):g} s. Check the probe, its cable and its speed."
    )
