"""How tools are used where no plan speaks: how much, where and in what, and what each shot then costs.

What the owner states comes before the last months, whose level is the Bayesian bootstrap's (`own_luck`).
"""

from functools import cached_property

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.conditions import by_draw_and_tool, in_precision_of, modification_wear, of_tools, sudden_rates
from wearfit.forecasts.outlook import Outlook
from wearfit.forecasts.own_luck import bootstrap_means

Array = np.ndarray


class UsualUse:
    """Usual use of some live tools; what is asked for is kept.

    Parameters
    ----------
    calibration : Calibration
    outlook : Outlook
        Of the same calibration.
    rows : array, shape (tool,)
        Rows of the live table.
    """

    def __init__(self, calibration: Calibration, outlook: Outlook, rows: Array) -> None:
        self._calibration = calibration
        self._live = calibration.live
        self._outlook = outlook
        self._rows = rows
        self._jobs: dict[bytes, Array] = {}  # the last

    @cached_property
    def level(self) -> Array:
        """Shots a month without a plan, shape (sample, tool)."""
        stated, recent = self._live.shots_per_month[self._rows], self._live.recent_shots[self._rows]
        out = np.repeat(np.nan_to_num(stated)[:, None].astype(self._calibration.precision), self._calibration.samples, axis=1)
        drawn = np.flatnonzero(np.isnan(stated) & (np.nansum(recent, axis=1) > 0))
        out[drawn] = bootstrap_means(self._calibration, self._rows[drawn], recent[drawn])
        return out.T

    @property
    def plant(self) -> Array:
        """Where the tools are beyond the plan, -1 for the mean plant, shape (tool,)."""
        return self._live.plant[self._rows]

    @cached_property
    def job(self) -> Array:
        """Wear per shot beyond the plan at a plant whose factor is one, shape (sample, tool)."""
        return self._mix * self._tool_factor

    def job_in(self, resin: Array) -> Array:
        """Wear per shot at a plant whose factor is one, in resins or, where that is -1, in a tool's usual ones, shape (sample, tool)."""
        key = resin.tobytes()  # a plan mostly names the same resin in each month
        if key not in self._jobs:
            job, named = self.job.copy(order="K"), np.flatnonzero(resin >= 0)
            steel, resin_wear = self._live.steel_group[self._rows[named]], self._outlook.conditions.resin_wear
            job.T[named] = resin_wear.T[steel, resin[named]]
            job.T[named] *= self._tool_factor.T[named]
            self._jobs = {key: job}
        return self._jobs[key]

    @cached_property
    def sudden(self) -> Array:
        """Expected sudden stops per shot beyond the plan, those of set-ups in them, shape (sample, tool)."""
        sudden = of_tools(self._outlook.conditions.plant_sudden, self.plant)
        sudden *= self.sudden_per_shot
        return sudden

    @cached_property
    def sudden_per_shot(self) -> Array:
        """The same at a plant whose factor is one, shape (sample, tool)."""
        per_shot, per_handling = sudden_rates(self._calibration, self._rows)
        per_shot += by_draw_and_tool(per_handling[:, 0], self._live.setups_per_shot[self._rows])
        return per_shot

    @cached_property
    def _tool_factor(self) -> Array:
        """Wear per shot that modifications bring, and set-ups at the tool's usual length of run, shape (sample, tool)."""
        live, rows = self._live, self._rows
        factor = by_draw_and_tool(np.exp(self._calibration.coefficient("log_setup")), (live.setups_per_shot * live.setup_share)[rows])
        factor += 1.0
        factor *= modification_wear(self._calibration, live.modifications[rows])
        return factor

    @cached_property
    def _mix(self) -> Array:
        """Mean wear per shot over each tool's mix of resins, shape (sample, tool); the reference resin where none ran."""
        wear, steel = self._outlook.conditions.resin_wear.T, self._live.steel_group[self._rows]  # wear (steel group, resin, sample)
        share = in_precision_of(wear, self._live.resin_share[self._rows])
        out = np.zeros((len(self._rows), self._calibration.samples), wear.dtype)
        out[~share.any(axis=1)] = 1.0
        # Resin by resin and not as one matrix product, whose rounding would depend on which other tools are asked about.
        for resin, of in enumerate(share.T):
            mine = np.flatnonzero(of)
            out[mine] += of[mine, None] * wear[steel[mine], resin]
        return out.T
