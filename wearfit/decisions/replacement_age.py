"""Replace a new tool at what age? The cost of each shot in the long run, by the shots after which it is replaced before it stops.

Age replacement (Barlow & Hunter 1960, Oper. Res. 8): C(T) = (c_p R(T) + c_f (1 - R(T))) / integral of R from 0 to T, with R the chance to
come so far. Here R holds wear-out and sudden stops; planned replacement does nothing against the latter, and keeps its cost. The rate
is worked out in closed form given each draw and averaged over the draws.
"""

from typing import Any, Final

import numpy as np

from wearfit import law
from wearfit.decisions.beliefs import median_shots, of_new
from wearfit.decisions.costs import Costs
from wearfit.decisions.decision import Decision
from wearfit.decisions.inputs import MONEY, REPLACEMENT_COST, Input, ShareOf, Values
from wearfit.decisions.money import amount
from wearfit.forecasts.new_tool import NewTool
from wearfit.forecasts.quantiles import weighted_quantiles

Array = np.ndarray

LOWEST: Final = 1e-3  # ages looked at, in median lives
HIGHEST: Final = 30.0
STEPS: Final = 360  # of equal ratio between them
SHARES: Final = (0.4, 0.55, 0.75, 1.0, 1.35)  # of the median life: ages offered as actions
CHARTED: Final = (0.15, 3.0)  # ages in a chart, in median lives
PER: Final = 100_000  # shots for which the cost is told
LEAST_SAVING: Final = 1e-3  # below it, no planned age is told apart from running to failure
LITTLE: Final = 0.05  # a saving that hardly pays, judgement

INPUTS: Final = (
    REPLACEMENT_COST,
    Input(
        "planned_cost", ShareOf("replacement_cost", 1.0), MONEY, "Cost of a planned replacement",
        "Price, and the change-over at a time that suits. A new cavity set costs 0.4-0.7 of a new tool.", doubt=1.5,
    ),
    Input(
        "failure_cost", ShareOf("planned_cost", 3.0), MONEY, "Cost of a replacement after a stop",
        "The same and all that the stop in the middle of a run costs. In all about 3 times a planned one, 8 in peak season, 1.2 where a "
        "second tool stands by.", doubt=2.5,
    ),
)  # fmt: skip


def cost_rates(ages: Array, log_life: Array, shape: law.Shape, sudden_per_shot: Array, planned: float, failure: float) -> Array:
    """Long-run cost a shot of replacing at each age, shape (draw, age); the last age may be inf.

    Parameters
    ----------
    ages : array, shape (age,)
        Rising, from well below the life. [shots]
    log_life, shape, sudden_per_shot : (draw,)
    """
    finite = ages[np.isfinite(ages)]
    cells = np.concatenate([[0.0], finite])
    nodes = np.concatenate([cells, 0.5 * (cells[1:] + cells[:-1])])
    hazard = law.cumulative_hazard(nodes, log_life[:, None], shape[:, None]) + sudden_per_shot[:, None] * nodes
    reach = np.exp(-hazard)
    ends, middles = reach[:, : len(cells)], reach[:, len(cells) :]
    lived = np.cumsum(np.diff(cells) / 6.0 * (ends[:, :-1] + 4.0 * middles + ends[:, 1:]), axis=1)  # Simpson's rule
    reach = ends[:, 1:]
    if len(finite) < len(ages):
        lived, reach = np.concatenate([lived, lived[:, -1:]], axis=1), np.concatenate([reach, np.zeros((len(reach), 1))], axis=1)
    return np.asarray((planned * reach + failure * (1.0 - reach)) / lived)


def costs_of(tool: NewTool, values: Values) -> Costs:
    """Costs by replacement age, and of running to failure."""
    planned, failure = values["planned_cost"], values["failure_cost"]
    typical = float(np.exp(np.average(np.log(median_shots(tool.log_life, tool.shape)), weights=tool.weights)))
    offered = typical * np.array(SHARES)
    grid = np.append(np.unique(np.concatenate([typical * np.geomspace(LOWEST, HIGHEST, STEPS), offered])), np.inf)
    rates = PER * cost_rates(grid, tool.log_life, tool.shape, tool.sudden_per_shot, planned, failure)
    mean = np.average(rates, axis=0, weights=tool.weights)
    best_age, best_rate = _closest(grid, mean)
    saved = 1.0 - best_rate / mean[-1] if mean[-1] > 0 else 0.0
    own = grid[rates.argmin(axis=1)]
    actions = ("run it until it stops", *(f"replace at {amount(age)} shots" for age in offered))
    never = float(np.average(np.isinf(own), weights=tool.weights))
    known = saved > LEAST_SAVING
    ends = weighted_quantiles(own[:, None], tool.weights[:, None], (0.1, 0.9))[:, 0]
    return Costs(
        actions,
        rates[:, np.append(len(grid) - 1, np.searchsorted(grid, offered))].T[:, :, None],
        tool.weights,
        f"of every {PER:,} shots in the long run",
        details={
            "best_age_shots": best_age if known else None,
            "saving": max(saved, 0.0),
            "median_life_shots": typical,
            "p_no_best_age": never,
            "curve": _curve(grid, rates, typical, tool.weights),
        },
        notes=_notes(tool, never),
        finding=_finding(best_age, ends, saved, typical) if known else NO_AGE,
        keys=("never", *(str(share) for share in SHARES)),
    )


NO_AGE: Final = (
    "No planned age pays: at whatever age, a replacement before it stops costs as much as waiting, or more. That is so where a stop costs "
    "no more than a planned replacement, and where age brings no more risk."
)


def _closest(grid: Array, mean: Array) -> tuple[float, float]:
    """The age of lowest mean rate and that rate, by a parabola through the lowest three in the log of age."""
    i = int(mean[:-1].argmin())
    if not 0 < i < len(grid) - 2:
        return float(grid[i]), float(mean[i])
    bend, slope, level = np.polyfit(np.log(grid[i - 1 : i + 2] / grid[i]), mean[i - 1 : i + 2], 2)
    shift = -0.5 * slope / bend if bend > 0 else 0.0
    return float(grid[i] * np.exp(shift)), float(level + 0.5 * slope * shift)


def _finding(best: float, ends: Array, saved: float, typical: float) -> str:
    pays = f"saves {100 * saved:.0f} % against waiting" if saved >= LITTLE else f"saves only {100 * saved:.1f} %, so that it hardly pays"
    late = "none at all" if np.isinf(ends[1]) else amount(float(ends[1]))
    return (
        f"Averaged over all draws the best age is {amount(best)} shots, {best / typical:.2f} of the median life, which {pays}; the draws' "
        f"own best ages go from {amount(float(ends[0]))} to {late} (8 of 10)."
    )


def _curve(grid: Array, rates: Array, typical: float, weights: Array) -> list[dict[str, Any]]:
    """Cost by age, for a chart."""
    shown = np.flatnonzero((grid > CHARTED[0] * typical) & (grid < CHARTED[1] * typical))[::3]
    low, high = weighted_quantiles(rates[:, shown], weights[:, None], (0.05, 0.95))
    mean = np.average(rates[:, shown], axis=0, weights=weights)
    return [
        {"age_shots": float(a), "cost": float(m), "p05": float(lo), "p95": float(hi)}
        for a, m, lo, hi in zip(grid[shown], mean, low, high, strict=True)
    ]


def _notes(tool: NewTool, never: float) -> tuple[str, ...]:
    notes = [
        "Age is counted in machine shots since the cavities were new. The rule is for tools that are renewed for as long as one can see, "
        "each like the last; for a tool in use and a product that ends, ask `wearfit choose replace`. Interest is left out.",
    ]
    if never > 0.02:
        notes.append(f"In {100 * never:.0f} of 100 draws no planned age pays.")
    if tool.new:
        notes.append(f"Never seen before, so taken as one of its kind: {', '.join(tool.new)}.")
    return tuple(notes)


REPLACEMENT_AGE: Final = Decision(
    name="replacement-age",
    question="Replace a new tool at what age?",
    help="After how many shots to replace a tool before it stops, where it is renewed again and again.",
    subject="tool or kind",
    inputs=INPUTS,
    costs=costs_of,
    levers=of_new,
)
