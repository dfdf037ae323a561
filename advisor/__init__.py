"""Rule-based consultation for the turbocharger sales desk of a diesel shop."""

import os

__version__ = "0.1.0"

# Matrices are small here: more threads of the linear algebra wait for each other, the longer the more else is running.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
