"""wearfit: when will each injection mould wear out, calibrated with its own history."""

import os

__version__ = "0.1.0"

# Before NumPy reads them. Work is shared out among threads of our own (`processors.py`): beside them the linear algebra library's
# threads find nothing left to do, and wait for it at full speed.
for _library in ("OPENBLAS", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
