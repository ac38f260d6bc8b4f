"""One thread of the linear algebra libraries in a process that nobody told otherwise."""

import os
import subprocess
import sys

import pytest

ASKED = "import os, wearfit; print(os.environ['OPENBLAS_NUM_THREADS'], os.environ['MKL_NUM_THREADS'])"


@pytest.mark.parametrize(("told", "wanted"), [({}, "1 1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3 1")])
def test_one_thread_is_asked_for_where_nothing_is_said(told: dict[str, str], wanted: str) -> None:
    quiet = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    done = subprocess.run([sys.executable, "-c", ASKED], env=quiet | told, capture_output=True, text=True, check=True)
    assert done.stdout.split() == wanted.split()


def test_the_package_leaves_numpy_to_whoever_needs_it() -> None:
    """It asks before NumPy is loaded, or it would ask in vain."""
    done = subprocess.run(
        [sys.executable, "-c", "import sys, wearfit; print('numpy' in sys.modules)"], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
