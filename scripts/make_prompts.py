"""Speak every prompt into src/printlore/faces/web/static/audio/, one mu-law WAV each, with an index of their lengths.

A build tool: needs the programs espeak-ng and ffmpeg. The sound files are kept in the repository, so nobody who
runs Printlore needs either. Run it again when PROMPTS in core/evening/cues.py changes.
"""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np

from printlore.core.evening.cues import PROMPTS
from printlore.devices.sound import write_mu_law

AUDIO = Path(__file__).parents[1] / "src" / "printlore" / "faces" / "web" / "static" / "audio"
RATE = 12_000
WORDS_A_MINUTE = 165
SILENT = 0.01
"""Below this share of full scale a prompt has not begun."""
PEAK = 0.8


def spoken(text):
    """(n,) samples of a sentence, without silence round it."""
    speech = subprocess.run(
        ["espeak-ng", "-v", "en-gb", "-s", str(WORDS_A_MINUTE), "--stdout", text], check=True, capture_output=True
    )
    turned = subprocess.run(
        ["ffmpeg", "-loglevel", "error", "-i", "-", "-ar", str(RATE), "-ac", "1", "-f", "f32le", "-"],
        check=True,
        capture_output=True,
        input=speech.stdout,
    )
    samples = np.frombuffer(turned.stdout, dtype="<f4")
    loud = np.flatnonzero(np.abs(samples) > SILENT * np.abs(samples).max())
    samples = samples[loud[0] : loud[-1] + 1 + RATE // 50]
    return (samples * (PEAK / np.abs(samples).max())).astype(np.float32)


def main():
    AUDIO.mkdir(parents=True, exist_ok=True)
    wanted = {f"{name}.wav" for name in PROMPTS}
    for old in AUDIO.glob("*.wav"):
        if old.name not in wanted:
            old.unlink()
    index = {}
    for name, text in PROMPTS.items():
        samples = spoken(text)
        write_mu_law(AUDIO / f"{name}.wav", samples, RATE)
        index[name] = {"seconds": round(len(samples) / RATE, 4), "words": text}
    (AUDIO / "index.json").write_text(json.dumps(index, indent=1) + "\n")
    total = sum(path.stat().st_size for path in AUDIO.glob("*.wav"))
    print(f"{len(index)} prompts, {sum(i['seconds'] for i in index.values()):.0f} s, {total / 1e6:.2f} MB")


if __name__ == "__main__":
    sys.exit(main())
