"""For all tests: one thread for linear algebra (the matrices are small), no deadline for examples on a busy machine,
and the clock of one place, for what is read is local time.
"""

import os
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ["TZ"] = "UTC"

from hypothesis import settings

time.tzset()
settings.register_profile("steady", deadline=None)
settings.load_profile("steady")
