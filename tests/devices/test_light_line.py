"""A probe's line of text becomes a reading; the serial port is a pseudo-terminal."""

import os
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printlore.devices.light_line import parse_line, read_probe, reading_from_line
from printlore.errors import PrintloreError, UnreadableFile, ValueOutOfRange


@pytest.mark.parametrize(
    "line",
    ["0.71,0.84,1.02", "R 0.71 G 0.84 B 1.02", "0.71\t0.84\t1.02\r\n", "r=.71; g=.84; b=1.02", "  7.1e-1 8.4e-1 1.02"],
)
def test_three_numbers_are_found_in_any_usual_line(line):
    assert parse_line(line) == (0.71, 0.84, 1.02)


def test_decimal_commas_are_read_when_said():
    assert parse_line("0,71;0,84;1,02", decimal_comma=True) == (0.71, 0.84, 1.02)


@pytest.mark.parametrize("minus", ["-", "\u2212", "\u2013"])
def test_a_minus_of_any_kind_counts(minus):
    assert parse_line(f"{minus}0.01 0.84 1.02") == (-0.01, 0.84, 1.02)


def test_wrong_lines_say_what_to_do():
    with pytest.raises(ValueOutOfRange, match="holds 2 numbers; a probe gives three"):
        parse_line("0.71 0.84")


@given(st.text(max_size=200))
def test_any_line_gives_a_reading_or_a_printlore_error(line):
    try:
        outcome = reading_from_line(line)
    except PrintloreError:
        outcome = None
    assert outcome is None or len(outcome.density) == 3


@pytest.fixture
def port():
    """(probe's end, name of the port at our end)"""
    ours, theirs = os.openpty()
    yield ours, os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


def test_a_probe_that_is_asked_answers_over_the_line(port):
    end, name = port

    def answer():
        asked = b""
        while not asked.endswith(b"\n"):
            asked += os.read(end, 64)
        os.write(end, b"R 0.71 G 0.84")
        os.write(end, b" B 1.02\r\n")

    probe = threading.Thread(target=answer)
    probe.start()
    reading = read_probe(name, ask="read")
    probe.join()
    assert reading.density == (0.71, 0.84, 1.02)
    assert reading.source == "probe"


def test_a_silent_probe_and_a_missing_port_are_told(port):
    with pytest.raises(UnreadableFile, match=r"Nothing came from port .* in 0\.2 s. Check the probe"):
        read_probe(port[1], seconds=0.2)
    with pytest.raises(UnreadableFile, match=r"Port /dev/nothing-here cannot be used"):
        read_probe("/dev/nothing-here")
