"""Answers of a fleet large enough to be shared out among copies of the process are those of one process alone."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from wearfit.processors import THREADS

# In a process of its own: those of the test run have more threads than one, and none of it is copied then.
SCRIPT = """
import numpy as np
from known_fleet import Plant, Resin, Tool, known_calibration
from wearfit import processors
from wearfit.forecasts.fleet import forecast_fleet
from wearfit.forecasts.next_run import answer_runs
from wearfit.forecasts.run_question import RunQuestion

rng = np.random.default_rng(3)
tools = [
    Tool(f"{i}", spent=rng.uniform(0.0, 8e5), life=1e6, plant=i % 3, mix=(0.5, 0.5), recent=tuple(rng.gamma(1.0, 1e4, 24)), plan={1: 5e3})
    for i in range(600)
]
plants, resins = tuple(Plant(f"plant {i}") for i in range(3)), tuple(Resin(f"resin {i}") for i in range(2))
calibration = known_calibration(tools, samples=100, plants=plants, resins=resins)
questions = [RunQuestion(f"{i}", "plant 1", "resin 0", "2026-07", 2e4) for i in range(600)]
copies = []

class Counted(processors._Copy):
    def __init__(self, *parts):
        copies.append(None)
        super().__init__(*parts)

processors._Copy = Counted

def answers(workers):
    processors.processors = lambda: workers
    return forecast_fleet(calibration).tools, answer_runs(calibration, questions).runs

alone = answers(1)
assert not copies
assert answers(2) == alone
assert len(copies) == 4, copies  # two for the season, beside what is read meanwhile
"""


@pytest.mark.skipif(not THREADS.is_dir(), reason="this system does not tell how many threads a process has")
def test_a_large_fleets_answers_do_not_hang_on_who_works_them_out():
    here = {"PYTHONPATH": os.pathsep.join([str(Path(__file__).parent), *sys.path])}
    subprocess.run([sys.executable, "-c", SCRIPT], env={**os.environ, **here}, check=True, timeout=120)
