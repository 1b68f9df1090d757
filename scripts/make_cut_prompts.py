"""Speak every prompt of cutting paper into src/printlore/faces/web/static/paper/audio/, as make_prompts.py does.

Run it again when CUT_PROMPTS in core/cutting/spoken.py changes. Numbers are those of the evening.
"""

import sys

from make_prompts import AUDIO, RATE, spoken

from printlore.core.cutting.spoken import CUT_PROMPTS
from printlore.devices.sound import write_mu_law

HERE = AUDIO.parent / "paper" / "audio"


def main():
    HERE.mkdir(parents=True, exist_ok=True)
    for old in HERE.glob("*.wav"):
        if old.stem not in CUT_PROMPTS:
            old.unlink()
    for name, text in CUT_PROMPTS.items():
        write_mu_law(HERE / f"{name}.wav", spoken(text), RATE)
    print(f"{len(CUT_PROMPTS)} prompts, {sum(path.stat().st_size for path in HERE.glob('*.wav')) / 1e6:.2f} MB")


if __name__ == "__main__":
    sys.exit(main())
