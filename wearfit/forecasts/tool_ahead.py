"""Draws of what lies ahead of one live tool: its shots left, its next lives, its use, and what a repair gives back."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wearfit import law
from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.arrival import walk
from wearfit.forecasts.clock import question_day, read_clocks
from wearfit.forecasts.conditions import modification_wear, position
from wearfit.forecasts.fleet import UNKNOWN_AGE, live_row
from wearfit.forecasts.luck import Luck
from wearfit.forecasts.new_tool import NewTool
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.quantiles import weighted_mean
from wearfit.forecasts.use_ahead import UseAhead

Array = np.ndarray

YEARS: Final = 40.0  # how far ahead failures are dated; later is never
WEEK: Final = 7.0  # [day]
EPOCH: Final = dt.date(1970, 1, 1)


@dataclass(frozen=True)
class ToolAhead:
    """What lies ahead of one live tool. Arrays of shape (sample,) unless said otherwise; shots are machine shots as it is used.

    Failures of the life under way are held both in shots and in weeks, for use comes in seasons; both count what readings say.
    """

    tool_id: str
    status: str
    plant_id: str
    as_of: dt.date
    age: Array  # shots that would bring a new tool to the wear spent so far
    log_life: Array  # characteristic life of the life under way [log shots]
    fresh_log_life: Array  # the same of a new cavity set in it, which carries no modifications
    shape: law.Shape
    sudden_per_shot: Array
    shots_to_wear: Array  # (sample, future) from now
    shots_to_sudden: Array  # (sample, future)
    weeks_to_wear: Array  # (sample, future) inf where never
    weeks_to_sudden: Array  # (sample, future)
    shots_per_month: float  # expected over the next twelve months
    shots_this_life: Array
    regained: Array  # share of the age that a first refurbishment takes away
    repeat: Array  # how much of that each further one keeps
    lead_log_sd: float
    due_weeks: float | None  # weeks until a replacement on order is there; None where none is
    on_record: Mapping[str, float]  # costs and the like that the records give, by input
    sister: NewTool  # another tool of its kind
    luck: Luck
    weights: Array

    @property
    def samples(self) -> int:
        return len(self.age)

    @property
    def worn(self) -> bool:
        return self.status == "worn"

    def shots_to_end(self) -> Array:
        """Shots of the life under way until wear-out or a sudden stop, shape (sample, future)."""
        return np.minimum(self.shots_to_wear, self.shots_to_sudden)

    def fresh_shots(self, turn: int) -> Array:
        """Shots of its n-th later cavity set until wear-out or a sudden stop, shape (sample, future); `turn` is 1 or more."""
        return self._aged_shots(np.zeros((self.samples, 1)), self.fresh_log_life, turn)

    def refurbished_shots(self, age: Array, before: float, turn: int) -> Array:
        """Shots after a refurbishment until wear-out or a sudden stop, shape (sample, future).

        Parameters
        ----------
        age : array, shape (sample, 1) or (sample, future)
            Shots behind the surface when it is refurbished.
        before : float
            Refurbishments that it has had already.
        turn : int
            Which life it begins, 1 or more.
        """
        kept = 1.0 - self.regained * self.repeat**before
        return self._aged_shots(age * kept[:, None], self.log_life, turn)

    def _aged_shots(self, age: Array, log_life: Array, turn: int) -> Array:
        start_life, shape = log_life[:, None], self.shape[:, None]
        reached = law.cumulative_hazard(age, start_life, shape) + self.luck.exponential("wear", turn)
        to_wear = law.wear_at(reached, start_life, shape) - age
        to_sudden = self.luck.exponential("sudden", turn) / np.maximum(self.sudden_per_shot, 1e-300)[:, None]
        return np.asarray(np.minimum(np.maximum(to_wear, 0.0), to_sudden))

    def weeks_to_end(self, shots_per_month: float) -> tuple[Array, Array]:
        """Weeks until wear-out and until a sudden stop, shapes (sample, future), at more or less use than expected."""
        if self.shots_per_month > 0:
            pace = shots_per_month / self.shots_per_month
            return self.weeks_to_wear / pace, self.weeks_to_sudden / pace
        a_week = shots_per_month * 12.0 * WEEK / 365.25
        return self.shots_to_wear / a_week, self.shots_to_sudden / a_week

    def thinned(self, keep: Array) -> "ToolAhead":
        """With some of the draws, whose futures beyond the life under way are drawn anew."""
        arrays = {
            name: getattr(self, name)[keep]
            for name in (
                "age", "log_life", "fresh_log_life", "shape", "sudden_per_shot", "shots_to_wear", "shots_to_sudden", "weeks_to_wear",
                "weeks_to_sudden", "shots_this_life", "regained", "repeat", "weights",
            )
        }  # fmt: skip
        return replace(self, **arrays, sister=self.sister.thinned(keep), luck=replace(self.luck, samples=len(keep)))


@dataclass(frozen=True)
class AboutTool:
    """Draws of a live tool, on which draws of something else that may be done with it are built."""

    tool: ToolAhead  # as and where it is

    @property
    def samples(self) -> int:
        return self.tool.samples

    @property
    def weights(self) -> Array:
        return self.tool.weights

    @property
    def on_record(self) -> Mapping[str, float]:
        return self.tool.on_record


def tool_ahead(calibration: Calibration, tool_id: str, as_of: dt.date | None = None, since: BySince = NONE_SINCE) -> ToolAhead:
    """What lies ahead of a live tool, taken to be back in use from the day of the question on where it is stored or held.

    Parameters
    ----------
    since : mapping of int to Since
        What its readings since the calibration say, by row of the live table; tools that they show to be worn stand as worn in
        the calibration given (`with_worn`).

    Raises
    ------
    Refusal
        Where the tool is not live, where its age is unknown, or the day lies before the calibration's.
    """
    day, row = question_day(calibration, as_of), live_row(calibration, tool_id)
    rows, live = np.array([row]), calibration.live
    use = UseAhead(calibration, read_outlook(calibration), rows)
    clocks = read_clocks(calibration, rows, use, day, since)
    worn = str(live.status[row]) == "worn"
    if np.isnan(clocks.spent).any() and not worn:
        raise Refusal(f"Tool {tool_id}: {UNKNOWN_AGE}", "Recalibrate with them.")
    luck = Luck(calibration.identity.seed, tool_id, calibration.samples)
    extra = luck.exponential("wear")
    capacity = np.concatenate([clocks.capacity(extra[:, [f]]) for f in range(luck.futures)], axis=1)
    left = np.zeros_like(capacity) if worn else capacity - clocks.spent
    sudden = luck.exponential("sudden")
    arrival = walk(use, day, YEARS * 365.25, left, sudden)
    per_shot = use.wear_per_shot_at_even_use()[:, 0]
    modified = np.log(modification_wear(calibration, live.modifications[rows])[:, 0])
    log_life = clocks.log_life[:, 0] - np.log(per_shot)
    sudden_per_shot = use.usual.sudden[:, 0]
    weights = clocks.weights[:, 0]
    due = float(live.replacement_due[row])
    own_effect = np.asarray(calibration.draws.tool[:, int(live.tool[row])], dtype=float)
    recorded = {
        "replacement_cost": live.replacement_cost, "refurbish_cost": live.refurbish_cost, "lead_time_weeks": live.lead_time_weeks,
    }  # fmt: skip
    on_record = {name: float(values[row]) for name, values in recorded.items() if not np.isnan(values[row])}
    a_month = float(weighted_mean(use.shots_per_month(day), clocks.weights)[0])
    if a_month > 0:
        on_record["shots_per_month"] = a_month
    return ToolAhead(
        tool_id=tool_id,
        status=str(live.status[row]),
        plant_id=str(calibration.levels.plant[live.plant[row]]) if live.plant[row] >= 0 else "",
        as_of=day,
        age=np.nan_to_num(clocks.spent[:, 0]) / per_shot,
        log_life=log_life,
        fresh_log_life=log_life + modified,
        shape=clocks.shape[:, 0],
        sudden_per_shot=sudden_per_shot,
        shots_to_wear=arrival.wear_shots if not worn else left,
        shots_to_sudden=sudden / np.maximum(sudden_per_shot, 1e-300)[:, None],
        weeks_to_wear=arrival.wear_days / WEEK if not worn else left,
        weeks_to_sudden=arrival.sudden_days / WEEK,
        shots_per_month=a_month,
        shots_this_life=live.shots_this_life[row] + calibration.draws.opening_shots[:, row].astype(float) + clocks.shots_since[:, 0],
        regained=_share(calibration, "refurbish"),
        repeat=_share(calibration, "repeat"),
        lead_log_sd=calibration.identity.lead_time_log_sd,
        due_weeks=None if np.isnan(due) else max(0.0, ((EPOCH + dt.timedelta(days=int(due))) - day).days / WEEK),
        on_record=on_record,
        sister=NewTool(
            name=f"another tool like {tool_id}",
            log_kind=log_life + modified - own_effect,
            tool_sd=np.asarray(calibration.draws.scale[:, position(calibration.levels.group, "tool")], dtype=float),
            shape=clocks.shape[:, 0],
            sudden_per_shot=sudden_per_shot,
            luck=Luck(calibration.identity.seed, f"sister of {tool_id}", calibration.samples),
            weights=weights,
            on_record=on_record,
        ),
        luck=luck,
        weights=weights,
    )


def _share(calibration: Calibration, name: str) -> Array:
    return np.asarray(calibration.draws.share[:, position(calibration.levels.share, name)], dtype=float)
