"""The benchmarks lie beside ``tests``, outside the package: their folder is put where Python looks."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
