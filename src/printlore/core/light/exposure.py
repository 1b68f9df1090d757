"""How much light reaches the paper: all changes are log10 of exposure, so they add."""

import math

LOG10_PER_STOP = math.log10(2.0)
