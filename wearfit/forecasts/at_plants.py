"""Draws of one live tool as it would run at other plants, or at its own with a drier hall."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.exposures.covariates import MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.forecasts.conditions import new_plant_sudden, new_plant_wear, position, read_conditions
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.tool_ahead import AboutTool, ToolAhead, tool_ahead

Array = np.ndarray

COLUMN = {covariate.name: i for covariates in (PLANT_COVARIATES, MONTH_COVARIATES) for i, covariate in enumerate(covariates)}


@dataclass(frozen=True)
class Hall:
    """How wet and how corrosive a hall is, and what that does to wear. Slopes are of log wear per shot, shape (sample,)."""

    sweating: float  # share of press hours in which moulds sweat, over the year
    season: Array  # (12,) how far each calendar month departs from it
    log_corrosivity: float  # natural log of the ratio to a conditioned hall
    sweating_slope: Array
    season_slope: Array
    corrosivity_slope: Array

    def longer_if_dried(self, sweating: float, corrosivity_removed: float) -> Array:
        """Life in the hall if it were dried over life in it as it is, shape (sample,).

        Parameters
        ----------
        sweating : float
            Share of press hours in which moulds would still sweat; a hall that is drier stays as it is.
        corrosivity_removed : float
            Share of what the air is more corrosive than that of a conditioned hall, in logs, that drying takes away.
        """
        to = min(sweating, self.sweating)
        change = self.sweating_slope * (to - self.sweating) - self.corrosivity_slope * corrosivity_removed * max(self.log_corrosivity, 0.0)
        by_season = self.season_slope[:, None] * self.season
        kept = to / self.sweating if self.sweating > 0 else 1.0
        return np.asarray(np.exp(by_season).mean(axis=1) / np.exp(kept * by_season + change[:, None]).mean(axis=1))

    def thinned(self, keep: Array) -> "Hall":
        """With some of the draws."""
        slopes = ("sweating_slope", "season_slope", "corrosivity_slope")
        return replace(self, **{name: getattr(self, name)[keep] for name in slopes})


@dataclass(frozen=True)
class AtPlants(AboutTool):
    """A live tool and the plants to which it may go. Arrays of shape (sample,)."""

    longer: Mapping[str, Array]  # life at each other plant over life where it is
    sudden: Mapping[str, Array]  # sudden stops a shot at each other plant over those where it is
    breaks: Array  # expected sudden stops of one move
    hall: Hall | None  # of its own plant, where its climate is on record
    new: tuple[str, ...]  # plants that no record rests on

    def at(self, plant: str) -> ToolAhead:
        """The tool as it would run at another plant."""
        return lasting(self.tool, self.longer[plant], self.sudden[plant])

    def thinned(self, keep: Array) -> "AtPlants":
        """With some of the draws."""
        return replace(
            self,
            tool=self.tool.thinned(keep),
            longer={name: values[keep] for name, values in self.longer.items()},
            sudden={name: values[keep] for name, values in self.sudden.items()},
            breaks=self.breaks[keep],
            hall=self.hall.thinned(keep) if self.hall else None,
        )


def lasting(tool: ToolAhead, longer: Array, sudden: Array | float = 1.0) -> ToolAhead:
    """The same tool where it makes `longer` times the shots until it wears out, and meets `sudden` times the sudden stops a shot."""
    of_shots, of_stops = longer[:, None], (np.ones_like(longer) * sudden)[:, None]
    return replace(
        tool,
        age=tool.age * longer,
        log_life=tool.log_life + np.log(longer),
        fresh_log_life=tool.fresh_log_life + np.log(longer),
        shots_to_wear=tool.shots_to_wear * of_shots,
        weeks_to_wear=tool.weeks_to_wear * of_shots,
        sudden_per_shot=tool.sudden_per_shot * sudden,
        shots_to_sudden=tool.shots_to_sudden / of_stops,
        weeks_to_sudden=tool.weeks_to_sudden / of_stops,
    )


def at_plants(
    calibration: Calibration,
    tool_id: str,
    plant_id: str = "",
    as_of: dt.date | None = None,
    since: BySince = NONE_SINCE,
) -> AtPlants:
    """A live tool at another plant, or at all others that have runs. A plant never seen is drawn from the population of plants.

    Raises
    ------
    Refusal
        As `tool_ahead`; where it is at that plant already, and where there is no other.
    """
    tool = tool_ahead(calibration, tool_id, as_of, since)
    if plant_id and plant_id == tool.plant_id:
        raise Refusal(f"Tool {tool_id} is at {plant_id} already.", "Name another plant with --plant, or none to compare all.", 2)
    levels, plants, conditions = calibration.levels, calibration.plants, read_conditions(calibration)
    seen = [str(levels.plant[i]) for i in np.flatnonzero(plants.seen) if str(levels.plant[i]) != tool.plant_id]
    others = [plant_id] if plant_id else seen
    if not others:
        raise Refusal("There is no other plant with runs.", "Name one with --plant; it is then taken as one of its kind.", 2)
    own = position(levels.plant, tool.plant_id)  # -1: the mean of the plants

    def wear(name: str) -> Array:
        at = position(levels.plant, name)
        return conditions.plant_wear[:, :, at].mean(axis=0) if at >= 0 else new_plant_wear(calibration, name)

    def sudden(name: str) -> Array:
        at = position(levels.plant, name)
        return conditions.plant_sudden[:, at] if at >= 0 else new_plant_sudden(calibration, name)

    here, stops_here = conditions.plant_wear[:, :, own].mean(axis=0), conditions.plant_sudden[:, own]
    return AtPlants(
        tool=tool,
        longer={name: here / wear(name) for name in others},
        sudden={name: np.asarray(sudden(name) / stops_here) for name in others},
        breaks=np.exp(calibration.coefficient("log_sudden_per_handling")) * stops_here,
        hall=_hall(calibration, own),
        new=tuple(name for name in others if name not in seen),
    )


def _hall(calibration: Calibration, plant: int) -> Hall | None:
    plants = calibration.plants
    # Where no air is recorded and no conditioned hall stated, the conditions are those of any plant: nothing to reckon drying from.
    if plant < 0 or np.isnan([plants.rh_mean_pct[plant], plants.corrosivity_um_per_year[plant]]).all():
        return None
    return Hall(
        sweating=float(plants.level[plant, COLUMN["sweating_between"]]),
        season=plants.season[plant, :, COLUMN["sweating_within"]],
        log_corrosivity=float(plants.level[plant, COLUMN["log_corrosivity"]]),
        sweating_slope=calibration.coefficient("slope.sweating_between"),
        season_slope=calibration.coefficient("slope.sweating_within"),
        corrosivity_slope=calibration.coefficient("slope.log_corrosivity"),
    )
