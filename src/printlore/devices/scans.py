"""Image files into scans: TIFF (also BigTIFF, tiled), PNG and JPEG, 8 or 16 bits, hostile or not.

Files are opened in a process of their own with a time and a memory limit (``decoder.py``). That
process is started once and kept, so a later file costs only its decoding.
"""

import atexit
import base64
import json
import os
import select
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np

from printlore.core.figure import Figure
from printlore.core.flags import Flag
from printlore.core.measure.scan import Pixels, Scan
from printlore.devices.icc import matrix_profile
from printlore.errors import UnreadableFile

DECODE_SECONDS = 5.0
_START_SECONDS = 30.0


class _Decoder:
    """The decoding process, started when first needed and again after it had to be ended."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._owner = 0

    def ask(self, path: str, out: str, raw: str) -> dict[str, Any]:
        with self._lock:
            process = self._running()
            assert process.stdin is not None
            try:
                process.stdin.write(json.dumps({"path": path, "out": out, "raw": raw}) + "\n")
                process.stdin.flush()
                line = self._line(process, DECODE_SECONDS)
            except (BrokenPipeError, OSError):
                line = ""
            if line:
                answer: dict[str, Any] = json.loads(line)
                return answer
            late = process.poll() is None
            self.end()
            if late:
                return {
                    "problem": f"reading it took more than {Figure(DECODE_SECONDS):g} s. "
                    "Save it without compression, or scan at a lower resolution."
                }
            return {"problem": "its contents are damaged and stopped the reader. Copy or scan it again."}

    def _running(self) -> "subprocess.Popen[str]":
        process = self._process
        if process is not None and process.poll() is None and self._owner == os.getpid():
            return process
        process = subprocess.Popen(
            [sys.executable, "-m", "printlore.devices.decoder"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self._process, self._owner = process, os.getpid()
        # The start (imports) must not eat into the first file's time.
        assert process.stdin is not None
        process.stdin.write(json.dumps({"path": os.devnull, "out": os.devnull, "raw": ""}) + "\n")
        process.stdin.flush()
        self._line(process, _START_SECONDS)
        return process

    @staticmethod
    def _line(process: "subprocess.Popen[str]", seconds: float) -> str:
        """One line of answer, or an empty text if the process ended or is late."""
        assert process.stdout is not None
        if sys.platform == "win32":
            got: list[str] = []
            stdout = process.stdout
            reader = threading.Thread(target=lambda: got.append(stdout.readline()), daemon=True)
            reader.start()
            reader.join(seconds)
            return got[0] if got else ""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if select.select([process.stdout], [], [], left)[0]:
                return process.stdout.readline()
        return ""

    def end(self) -> None:
        process, self._process = self._process, None
        if process is None or self._owner != os.getpid():
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()


_decoder = _Decoder()
atexit.register(_decoder.end)


def decoded(source: Path | str | bytes, *, name: str = "", raw: str = "") -> tuple[Pixels, dict[str, Any], str]:
    """Pixels of a file, what else its reader tells, and its name; ``raw`` is "full" or "half" for a camera's file.

    Raises
    ------
    UnreadableFile
        As for ``read_scan``.
    """
    name = name or ("scan" if isinstance(source, bytes) else Path(source).name)
    with tempfile.TemporaryDirectory(prefix="printlore-") as folder:
        if isinstance(source, bytes):
            path = Path(folder) / "in"
            path.write_bytes(source)
        else:
            path = Path(source)
            if not path.is_file():
                raise UnreadableFile(f'There is no file "{path}". Check the name and the folder.')
        out = Path(folder) / "out"
        try:
            with open(path, "rb"):
                pass
        except OSError as problem:
            raise UnreadableFile(f'"{name}" cannot be opened: {problem.strerror}. Check its permissions.') from None
        answer = _decoder.ask(str(path.resolve()), str(out), raw)
        if "problem" in answer:
            raise UnreadableFile(f'"{name}" cannot be used as a scan: {answer["problem"]}')
        pixels = np.fromfile(out, dtype=answer["dtype"]).reshape(answer["shape"])
    return pixels, answer, name


def read_scan(source: Path | str | bytes, *, name: str = "") -> Scan:
    """Scan from a file, or from the bytes of one.

    Parameters
    ----------
    source : path or bytes
    name : str
        What to call it in messages; default the file's name.

    Returns
    -------
    Scan
        Codes as in the file (16 bits stay 16), with the tone curves of a matrix profile.

    Raises
    ------
    UnreadableFile
        If it is no TIFF, PNG or JPEG, is empty, cut short, damaged, too large, too slow, or
        holds CMYK, palette, grey or Lab pixels.

    References
    ----------
    tiff6, icc2022
    """
    pixels, answer, name = decoded(source, name=name)
    profile = base64.b64decode(answer["profile"])
    flags = [Flag(flag) for flag in answer["flags"]]
    used = matrix_profile(profile) if profile else None
    if not profile:
        flags.append(Flag.NO_PROFILE)
    elif used is None:
        flags.append(Flag.PROFILE_NOT_USED)
    if pixels.dtype == np.uint8:
        flags.append(Flag.EIGHT_BITS)
    return Scan(
        pixels=pixels,
        tone=used.tone(256 if pixels.dtype == np.uint8 else 65536) if used else None,
        to_xyz=used.to_xyz if used else None,
        resolution=answer["resolution"],
        profile=profile,
        flags=tuple(flags),
        name=name,
    )
