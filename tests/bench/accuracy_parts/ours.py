"""wearfit on a simulated fleet, by its ordinary path from tables to answers, and the peers on the same records."""

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import numpy as np

from accuracy_parts.kinds import MOST_DESIGNS, MOST_SITES
from accuracy_parts.peers import Ahead
from wearfit.calibration import Calibration
from wearfit.demo.simulate import SimulatedFleet
from wearfit.demo.tables import write_tables
from wearfit.forecasts.ahead import look_ahead
from wearfit.forecasts.next_run import Runs
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.run_question import RunQuestion
from wearfit.model.calibrate import Outcome, calibrate
from wearfit.model.layout import Layout
from wearfit.model.priors import Priors
from wearfit.model.sampler import Compiled
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of

Array = np.ndarray

MOST_RESINS: Final = 9
MOST_MAKERS: Final = 8
FURTHEST_DAYS: Final = 3_652.5


def common_layout() -> Layout:
    """One that holds every fleet of the benchmark, so that the model is compiled once."""
    return Layout.fitting(MOST_SITES, MOST_RESINS, MOST_DESIGNS, MOST_MAKERS)


def history_as_recorded(fleet: SimulatedFleet) -> History:
    """The fleet's records written, read and put together as an owner's are."""
    with TemporaryDirectory() as folder:
        write_tables(fleet.tables, Path(folder))
        return history_of(assemble(read(Path(folder)).rows), fleet.settings.as_of)


def calibrated(history: History, priors: Priors, seed: int, compiled: Compiled | None, cores: int | None) -> Outcome:
    return calibrate(history.exposures, history.live, history.fingerprint, priors, seed, compiled, cores=cores, layout=common_layout())


def our_forecasts(calibration: Calibration, month: str, resin_of: Mapping[str, str]) -> dict[str, Ahead]:
    """What the calibration says of each live tool that is not worn, in the terms of the peers.

    Parameters
    ----------
    month : str
        YYYY-MM in which runs are asked for.
    resin_of : mapping of str to str
        By tool, the resin of the runs that are asked for.
    """
    day = dt.date.fromisoformat(calibration.identity.as_of)
    runs, live = Runs(calibration), calibration.live
    rows = np.flatnonzero(live.status != "worn")
    ahead = look_ahead(calibration, read_outlook(calibration), rows, day, FURTHEST_DAYS)
    names = [str(calibration.levels.tool[live.tool[row]]) for row in rows]
    plants = [str(calibration.levels.plant[live.plant[row]]) for row in rows]

    def says(i: int) -> Ahead:
        def run(shots: float, plant_id: str | None) -> float:
            question = RunQuestion(names[i], plant_id or plants[i], resin_of[names[i]], month, shots)
            answer = runs.answer(question, day, after_plan=False)
            if answer["problem"]:
                raise ValueError(f"{names[i]}: {answer['problem']}")
            return float(answer["p_wear_out"])

        return Ahead(_within(ahead.arrival.wear_shots[:, i], ahead.clocks.weights[:, i]), run)

    return {name: says(i) for i, name in enumerate(names) if not ahead.unknown[i]}


def _within(draws: Array, weights: Array) -> Callable[[Array], Array]:
    """Share of the weight of some draws below each point, straight between them."""
    order = np.argsort(draws, kind="stable")
    ranked, reached = draws[order], np.cumsum(weights[order])
    middle = (reached - 0.5 * weights[order]) / reached[-1]
    return lambda shots: np.asarray(np.interp(shots, ranked, middle, left=0.0, right=1.0))
