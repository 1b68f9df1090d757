"""For all tests: one thread for linear algebra (the matrices are small), no deadline for examples on a busy machine."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings

settings.register_profile("steady", deadline=None)
settings.load_profile("steady")
