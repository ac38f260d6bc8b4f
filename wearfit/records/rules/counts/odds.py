"""How likely it is that a run's count counts the other thing: parts where it says shots, or shots where it says parts.

A run's pace (shots a day; its share of what the cycle time allows where that is known) is set against the other runs of
its tool, read both ways. Three things decide: how near each reading comes to the tool's own pace, whether the cycle time
allows it, and how often the same tool and plant, the plant, and the fleet count the other thing. The last three are learned
from the records: one odd run is a doubt, ten of one plant are a habit.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, ndtr

from wearfit.records.rules.counts.scatter import group_median, scatter_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Judgement throughout, but for the share of wrong rows: TRADE tables give 5 to 10 % of rows in the wrong unit, itself a judgement.
SLIP_SHARE: Final = 0.05
"""Share of wrong runs where nothing else is known, and the weight in runs of that belief."""
SLIP_WEIGHT: Final = 40.0
SLIP_MOST: Final = 0.15
HABIT_SHARE: Final = 0.05
"""Share of tools that a plant always counts the other way, and the weight in tools of that belief."""
HABIT_WEIGHT: Final = 4.0
HABIT_STRICTNESS: Final = 0.9
"""Share of wrong runs where it is a habit."""
USUAL_PACE: Final = np.log(0.55)
"""Log share of what the cycle time allows, of a usual tool: stoppages, changeovers and idle shifts take the rest."""
PACE_SD: Final = 0.5
"""How far, in logs, the usual paces of tools lie apart; the tails are heavy."""
APART: Final = 3.0
"""Scatters that two readings must lie apart for the pace alone to tell them: at 3, one run in 15 lies nearer the wrong one."""
TOO_FAST: Final = np.log(1.02)
"""Log share of what the cycle time allows from which a count cannot be right: cycle times are rounded."""
CYCLE_ERROR: Final = 0.1
"""Log error of a cycle time: quoted rather than measured, rounded."""
BEYOND: Final = 0.005
"""Chance that a run far faster than its cycle time allows is right and the cycle time wrong, where nothing else is known."""
PLANT_HABIT: Final = 0.5
"""Learned share of a plant's tools that always count the other way, from which its runs are doubted however alike the readings."""
AT_A_TIME: Final = 16_384  # runs
ROUNDS: Final = 5
"""The learned shares and paces hardly move after these."""


@dataclass(frozen=True)
class Counts:
    """Runs whose count could count the other thing.

    Parameters
    ----------
    pace : array, shape (run,)
        Log of the shots a day as the sheet says; where `timed`, less the log of the shots a day that the cycle time allows.
    other : array, shape (run,)
        Log of the same pace if the count counts the other thing, less `pace`: negative where shots may be parts.
    timed : bool array, shape (run,)
        Whether the cycle time is known; one answer a tool.
    tool, plant : int arrays, shape (run,)
        Codes from 0.
    beyond : float
        Chance that a run far faster than its cycle time allows is right all the same; 1 where cycle times tell nothing.
    """

    pace: Floats
    other: Floats
    timed: Bools
    tool: Ints
    plant: Ints
    beyond: float = BEYOND


def odds_of_the_other(counts: Counts) -> Floats:
    """Probability that each run counts the other thing, shape (run,).

    Parameters
    ----------
    counts : Counts

    Notes
    -----
    Two beliefs about a tool's usual pace are followed, that most of its runs are right and that most are wrong, each
    refined in turn with the runs' probabilities, and weighed by how well they explain all its runs. A run's own pace has no
    part in the pace that it is compared with.
    """
    if not len(counts.pace):
        return np.zeros(0)
    return _Fleet(counts).solve()


class _Fleet:
    """The fixed parts of the reckoning, laid out once."""

    def __init__(self, counts: Counts) -> None:
        self.c = counts
        self.tools = int(counts.tool.max()) + 1
        self.n = np.bincount(counts.tool, minlength=self.tools)
        self.down = counts.other > 0  # the sheet says parts; that they are shots makes the pace higher
        group_keys = (counts.tool * (int(counts.plant.max()) + 1) + counts.plant) * 2 + self.down
        _, first, self.group = np.unique(group_keys, return_index=True, return_inverse=True)
        self.groups = len(first)
        self.place = (counts.plant * 2 + self.down)[first]
        self.group_tool = counts.tool[first]
        self.scatter = scatter_of(counts.pace, counts.tool, self.group, ~self.down)
        # Readings that lie nearer than the runs scatter cannot be told apart by pace, and a mixture of them would be learned from noise.
        width = (self.scatter.slow_side + self.scatter.fast_side) / 2.0
        apart = np.abs(counts.other) >= APART * np.maximum(width, np.median(width))
        impossible = counts.timed & (counts.pace > TOO_FAST) & (counts.pace + counts.other <= TOO_FAST)
        self.told_apart = apart | impossible
        self._open_to_doubt(self.told_apart)
        timed_tools = np.zeros(self.tools, dtype=bool)
        timed_tools[counts.tool] = counts.timed
        self.timed_tools = timed_tools

    def _open_to_doubt(self, which: Bools) -> None:
        self.movable = which & (self.c.other != 0)
        self.group_movable = np.bincount(self.group, weights=self.movable, minlength=self.groups) > 0

    def solve(self) -> Floats:
        c = self.c
        wrong = np.stack([np.zeros(len(c.pace)), self.movable.astype(float)])
        usual = np.stack([group_median(c.pace + w * c.other, c.tool, self.tools) for w in wrong])
        medians = usual[0][self.timed_tools]
        # Half the fleet would have to be wrong to move this; no fleet's usual pace is above what its presses can do.
        fleet = float(np.clip(np.median(medians) if len(medians) >= 5 else USUAL_PACE, np.log(0.02), np.log(0.85)))
        slip = np.full(2, SLIP_SHARE)
        habit = np.full((int(c.plant.max()) + 1) * 2, HABIT_SHARE)
        belief = np.full((2, self.tools), 0.5)
        for _ in range(ROUNDS):
            score, group_habit = np.empty((2, self.tools)), np.empty((2, self.groups))
            for k in range(2):
                right, other = self._fits(usual[k], wrong[k], fleet)
                wrong[k], group_habit[k], evidence = self._weigh(right, other, slip, habit)
                score[k] = np.bincount(self.group_tool, weights=evidence, minlength=self.tools) + self._plausible(usual[k], fleet)
                usual[k] = self._usual(usual[k], wrong[k], fleet)
            belief[1] = expit(score[1] - score[0])
            belief[0] = 1.0 - belief[1]
            slip, habit = self._learned(wrong, group_habit, belief)
            # What a whole plant does may be believed of its other runs too.
            self._open_to_doubt(self.told_apart | (habit[self.place[self.group]] > PLANT_HABIT))
        total: Floats = np.sum(belief[:, c.tool] * wrong, axis=0)
        return total

    def _fits(self, usual: Floats, wrong: Floats, fleet: float) -> tuple[Floats, Floats]:
        """Density of each run's pace as it is read and as the other thing, its own part in the usual pace left out."""
        weight, total, summed = self._pull(usual, wrong, fleet)
        right, other = np.empty_like(weight), np.empty_like(weight)
        # Some runs at a time: what is reckoned on the way for all of a large fleet takes more room than its records.
        for first in range(0, len(weight), AT_A_TIME):
            some = slice(first, first + AT_A_TIME)
            pace, step, tool = self.c.pace[some], self.c.other[some], self.c.tool[some]
            rest = np.maximum(total[tool] - weight[some], 1e-9)
            centre = (summed[tool] - weight[some] * (pace + wrong[some] * step)) / rest
            doubt = np.minimum(1.0 / rest, 4.0)
            # Where even the usual pace is above what the cycle time allows, the cycle time is off, for all the tool's runs.
            beyond = np.where(self.c.timed[some], np.maximum(usual[tool], 0.0) * (self.n[tool] > 1), np.inf)
            right[some] = self.scatter.density(pace - centre, doubt, some) * self._allowed(pace - beyond)
            other[some] = self.scatter.density(pace + step - centre, doubt, some) * self._allowed(pace + step - beyond)
        return right, other

    def _allowed(self, pace: Floats) -> Floats:
        """Chance that the cycle time allows a pace, given its error; 1 for a pace of minus infinity."""
        allowed = np.ones_like(pace)
        near = pace > -4.0 * CYCLE_ERROR
        allowed[near] = ndtr(-pace[near] / CYCLE_ERROR) + self.c.beyond
        return np.minimum(allowed, 1.0)

    def _weigh(self, right: Floats, other: Floats, slip: Floats, habit: Floats) -> tuple[Floats, Floats, Floats]:
        """Probability that each run is wrong, that each group is a habit, and the log evidence of each group."""
        # What cannot be told is presumed right, and so speaks against a habit; with one cavity there is nothing to tell.
        ratio = np.where(self.movable, other / right, np.where(self.c.other == 0, 1.0, 0.0))
        share = slip[self.down.astype(int)]
        careful = 1.0 - share + share * ratio
        habitual = 1.0 - HABIT_STRICTNESS + HABIT_STRICTNESS * ratio
        gap = np.bincount(self.group, weights=np.log(habitual / careful), minlength=self.groups)
        prior = np.where(self.group_movable, habit[self.place], 1e-12)
        is_habit = expit(gap + np.log(prior) - np.log1p(-prior))
        evidence = np.bincount(self.group, weights=np.log(right * careful), minlength=self.groups)
        evidence += np.logaddexp(np.log1p(-prior), np.log(prior) + gap)
        of_run = is_habit[self.group]
        wrong = ratio * (of_run * HABIT_STRICTNESS / habitual + (1.0 - of_run) * share / careful)
        return np.where(self.movable, wrong, 0.0), is_habit, evidence

    def _pull(self, usual: Floats, wrong: Floats, fleet: float) -> tuple[Floats, Floats, Floats]:
        """Each run's weight in its tool's usual pace, and the sums of weights and of weighted paces by tool."""
        c = self.c
        read = c.pace + wrong * c.other
        off = read - usual[c.tool]
        width = np.where(off < 0, self.scatter.slow_side, self.scatter.fast_side)
        weight = 5.0 / (4.0 + (off / width) ** 2) / width**2
        prior = np.where(self.timed_tools, PACE_SD**-2.0, 0.0)
        total = np.bincount(c.tool, weights=weight, minlength=self.tools) + prior
        summed = np.bincount(c.tool, weights=weight * read, minlength=self.tools) + prior * fleet
        return weight, total, summed

    def _usual(self, usual: Floats, wrong: Floats, fleet: float) -> Floats:
        _, total, summed = self._pull(usual, wrong, fleet)
        return np.asarray(summed / np.maximum(total, 1e-9))

    def _plausible(self, usual: Floats, fleet: float) -> Floats:
        """Log plausibility of each tool's usual pace itself; no matter where the cycle time is not known."""
        off = (usual - fleet) / PACE_SD
        return np.where(self.timed_tools, -2.0 * np.log1p(off**2 / 3.0) + np.log(self._allowed(usual)), 0.0)

    def _learned(self, wrong: Floats, group_habit: Floats, belief: Floats) -> tuple[Floats, Floats]:
        c = self.c
        is_habit = np.sum(belief[:, self.group_tool] * group_habit, axis=0)
        slips = np.sum(belief[:, c.tool] * wrong, axis=0) * (1.0 - is_habit[self.group])
        open_to = self.movable * (1.0 - is_habit[self.group])
        side = self.down.astype(int)
        seen = np.bincount(side, weights=slips, minlength=2)
        of = np.bincount(side, weights=open_to, minlength=2)
        slip = np.clip((seen + SLIP_SHARE * SLIP_WEIGHT) / (of + SLIP_WEIGHT), 1e-4, SLIP_MOST)
        by_place = np.bincount(self.place, weights=is_habit * self.group_movable, minlength=2 * (int(c.plant.max()) + 1))
        places = np.bincount(self.place, weights=self.group_movable, minlength=len(by_place))
        habit = np.clip((by_place + HABIT_SHARE * HABIT_WEIGHT) / (places + HABIT_WEIGHT), 1e-3, 0.9)
        return slip, habit
