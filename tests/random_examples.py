"""How many random examples a test looks at: few in the build, `WEARFIT_EXAMPLES` times as many by the command for it."""

import os
from typing import Final

from hypothesis import settings

TIMES: Final = int(os.environ.get("WEARFIT_EXAMPLES", "1"))


def examples(n: int) -> settings:
    """The same examples every time, and no clock: other work on the machine must not fail a test."""
    return settings(derandomize=True, deadline=None, max_examples=n * TIMES)
