"""Every cached call. What each rests on is its argument: the store's address, the calibration, the day, and what is accepted.

A new calibration has another key, so that nothing has to be cleared. Values of `cache_resource` are shared by all users and
frozen. Nothing that came from an upload is cached here. A screen calls what this front names: `keys` has the keys and the threads,
`loaded` what is read once, `drawn` charts, and `of_fleet`, `of_tool`, `of_plants` and `of_evidence` the answers.
"""

from wearfit.screens.cached.drawn import drawing
from wearfit.screens.cached.keys import Answering, Version, readers
from wearfit.screens.cached.loaded import current, current_job, own_day, recalibrations, records_job
from wearfit.screens.cached.of_evidence import beliefs, fit_job, measure_job, searched
from wearfit.screens.cached.of_fleet import changes, fleet, fleet_job, new_records_job, plan_job, plan_of_file, preview_job
from wearfit.screens.cached.of_plants import drier_air, life_along, plants, warmer
from wearfit.screens.cached.of_tool import (
    at_plants,
    cavities,
    choice_job,
    draws_job,
    remaining_job,
    run_risk,
    runs_job,
    tool_history,
    tool_job,
)

__all__ = [
    "Answering",
    "Version",
    "at_plants",
    "beliefs",
    "cavities",
    "changes",
    "choice_job",
    "current",
    "current_job",
    "drawing",
    "draws_job",
    "drier_air",
    "fit_job",
    "fleet",
    "fleet_job",
    "life_along",
    "measure_job",
    "new_records_job",
    "own_day",
    "plan_job",
    "plan_of_file",
    "plants",
    "preview_job",
    "readers",
    "recalibrations",
    "records_job",
    "remaining_job",
    "run_risk",
    "runs_job",
    "searched",
    "tool_history",
    "tool_job",
    "warmer",
]
