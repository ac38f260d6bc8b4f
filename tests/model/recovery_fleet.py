"""A simulated fleet of known truth, as records, and the truth in the model's own terms.

The model measures wear against the average of the plants and resins that it has seen, and folds what designs and makers
have in common into the level of the classes. Effects of plants and resins add up to zero here; the rest is done below.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from wearfit.demo.readings import FEATURES, feature_truth
from wearfit.demo.scenario import RESINS, SITES
from wearfit.demo.settings import Fleet, WearTruth
from wearfit.demo.simulate import SimulatedFleet, simulate_fleet
from wearfit.demo.tables import write_tables
from wearfit.model.bands import band_offsets, log_band
from wearfit.model.priors import read_priors
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.workflow.history import History, history_of

FLEET = Fleet(
    sites=SITES, resins=RESINS, n_tools=150, seed=3,
    unknown_entry_share=0.5, unknown_class_share=0.08, unknown_steel_share=0.15, coated_share=0.2, late_history_share=0.04, noted_rate=0.06,
    readings_share=0.2,
    truth=WearTruth(storage=0.02),
)  # fmt: skip


@dataclass(frozen=True)
class Recovery:
    """A history and the truth behind it."""

    history: History
    simulated: SimulatedFleet


@cache
def recovery_fleet() -> Recovery:
    simulated = simulate_fleet(FLEET)
    with TemporaryDirectory() as folder:
        write_tables(simulated.tables, Path(folder))
        history = history_of(assemble(read(Path(folder)).rows))
    return Recovery(history, simulated)


def true_coefficients(fleet: SimulatedFleet) -> dict[str, float]:
    """Coefficients by the model's names; those that the simulator has no like of are left out."""
    truth, world = fleet.settings.truth, fleet.world
    for effects in (world.plant, world.resin):
        assert abs(sum(effects.values())) < 1e-12
    shared = float(np.mean(list(world.design.values())) + np.mean(list(world.maker.values())))
    return {
        "log_shape": np.log(truth.shape),
        "log_setup": np.log(truth.setup_shots),
        "log_sudden_per_life": np.log(truth.sudden_per_life),
        "log_sudden_per_handling": np.log(truth.sudden_per_handling),
        **{f"class_offset.{c}": truth.offset + deviation + shared for c, deviation in world.service_class.items()},
        **{f"steel.{steel}": effect for steel, effect in truth.steel.items() if steel != "prehard"},
        **{f"coating.{coating}": effect for coating, effect in truth.coating.items()},
        "slope.sweating_between": truth.sweating,
        "slope.sweating_within": truth.sweating,
        "slope.log_corrosivity": truth.log_corrosivity,
        "slope.filler_soft": truth.filler_soft,
        "slope.filler_hard": truth.filler_hard,
        "slope.corrosive_plain": truth.corrosive_plain,
        "slope.corrosive_plated": truth.corrosive_plated,
        "slope.corrosive_stainless": truth.corrosive_stainless,
        "slope.modification": truth.modification,
        "log_storage": np.log(truth.storage) + _longer_than_their_bands(fleet),
        "storage.preserved": truth.storage_preserved,
        "storage.corrosivity": truth.storage_corrosivity,
        "reading.log_life_sd": np.log(_root_mean_square([f.life_sd for f in FEATURES])),
        "reading.log_life_growth_sd": np.log(_root_mean_square([f.growth_sd for f in FEATURES])),
    }


def _root_mean_square(spreads: Sequence[float]) -> float:
    """What the model has one of and the simulator one for each feature."""
    return float(np.sqrt(np.mean(np.square(spreads))))


def _longer_than_their_bands(fleet: SimulatedFleet) -> float:
    """Mean log of what the simulator takes a share of, the life of a class, over what the model does, its band."""
    exposures = recovery_fleet().history.exposures
    known = np.flatnonzero(exposures.candidates.known)
    bands = log_band(exposures, read_priors(), band_offsets(read_priors()))[known]
    lives = {c.tool.tool_id: c.tool.class_log_life for c in fleet.careers}
    return float(np.mean([lives[exposures.tools.tool_id[t]] for t in exposures.candidates.tool[known]] - bands))


def true_scales(fleet: SimulatedFleet) -> dict[str, float]:
    truth = fleet.settings.truth
    return {
        "plant": truth.plant_sd,
        "resin": truth.resin_sd,
        "design": truth.design_sd,
        "maker": truth.maker_sd,
        "tool": truth.tool_sd,
        "sudden_plant": truth.sudden_plant_sd,
    }


def true_shares(fleet: SimulatedFleet) -> dict[str, float]:
    return {"refurbish": fleet.settings.truth.rejuvenation, "repeat": fleet.settings.truth.rejuvenation_fade}


def true_features() -> dict[str, dict[str, float]]:
    """Level, growth and noise by feature."""
    return {name: {part: of[part] for part in ("level", "growth", "noise")} for name, of in feature_truth().items()}
