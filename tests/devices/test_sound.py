"""Mu-law against ITU-T G.711 and against the standard library's coder."""

import io
import wave

import numpy as np
import pytest

from printlore.devices.sound import MU_LAW_VALUES, encode_mu_law, read_mu_law, wav_bytes, write_mu_law
from printlore.errors import UnreadableFile

G711_TABLE_2A = {
    1: 0, 16: 30, 17: 33, 32: 93, 33: 99, 48: 219, 49: 231, 64: 471, 65: 495, 80: 975, 81: 1023, 96: 1983,
    97: 2079, 112: 3999, 113: 4191, 128: 8031,
}  # fmt: skip
"""Value number to decoded value, first and last of each segment (g711, Table 2a; from memory)."""


@pytest.mark.parametrize(("number", "value"), G711_TABLE_2A.items())
def test_decoded_values_are_those_of_the_standard(number, value):
    code = 0xFF - (number - 1)
    assert MU_LAW_VALUES[code] == 4 * value
    assert MU_LAW_VALUES[code - 0x80] == -4 * value


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_decoder_agrees_with_the_standard_library():
    audioop = pytest.importorskip("audioop")
    theirs = np.frombuffer(audioop.ulaw2lin(bytes(range(256)), 2), dtype="<i2")
    assert theirs.tolist() == MU_LAW_VALUES.tolist()


def test_encoder_finds_the_nearest_code():
    values = MU_LAW_VALUES / 32768
    decoded = MU_LAW_VALUES[np.frombuffer(encode_mu_law(values.astype(np.float32)), dtype=np.uint8)]
    assert decoded.tolist() == MU_LAW_VALUES.tolist()


def test_a_prompt_file_comes_back(tmp_path):
    samples = np.sin(np.arange(301) / 5).astype(np.float32) * 0.7
    write_mu_law(tmp_path / "one.wav", samples, 12_000)
    back, rate = read_mu_law(tmp_path / "one.wav")
    assert rate == 12_000
    assert np.abs(back - samples).max() < 0.7 / 16


def test_other_files_are_refused(tmp_path):
    (tmp_path / "a.wav").write_bytes(b"nothing")
    with pytest.raises(UnreadableFile, match=r"a\.wav is not a WAV file"):
        read_mu_law(tmp_path / "a.wav")
    (tmp_path / "b.wav").write_bytes(wav_bytes(np.zeros(8, dtype=np.float32), 8000))
    with pytest.raises(UnreadableFile, match="not mono mu-law"):
        read_mu_law(tmp_path / "b.wav")
    (tmp_path / "c.wav").write_bytes(b"RIFF\0\0\0\0WAVE")
    with pytest.raises(UnreadableFile, match="no sound"):
        read_mu_law(tmp_path / "c.wav")


def test_written_wav_is_one_that_players_read():
    with wave.open(io.BytesIO(wav_bytes(np.array([0, 0.5, -1, 2], dtype=np.float32), 12_000))) as back:
        assert (back.getnchannels(), back.getsampwidth(), back.getframerate()) == (1, 2, 12_000)
        assert np.frombuffer(back.readframes(4), "<i2").tolist() == [0, 16383, -32767, 32767]
