"""The peers: what the owner would do otherwise, with the same records and with care.

`class_band`: the life of a new tool by its band, nothing learnt. `pooled_weibull`: one Weibull law for all lives, in lives of the band.
`weibull_aft`, `cox`: penalised regressions with late entry. `survival_forest`: of scikit-survival, which knows no late entry, so that
a life found under way counts from its start. All but the first take time in lives of the tool's band. A step function of cumulative
hazard is joined by straight lines in logs and goes on by a power, so that no chance is nought because nothing happened just there. With
fewer than LEAST_WEAR_OUTS each of them says what the class band says, as an owner would.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Final

import numpy as np
from sksurv.ensemble import RandomSurvivalForest
from sksurv.util import Surv

from accuracy_parts.lives import LiveLife, PeerLives, PeerTable, peer_table
from accuracy_parts.regression import Cox, WeibullAft, chosen, fit_aft, fit_cox, held_out_aft, held_out_cox
from wearfit.evidence.baselines import band_survival
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.model.priors import Priors

Array = np.ndarray

PEERS: Final = ("class_band", "pooled_weibull", "weibull_aft", "cox", "survival_forest")
LEAST_WEAR_OUTS: Final = 3
TREES: Final = 200
TREES_TRIED: Final = 60
LEAVES: Final = (3, 8, 20)  # least number of lives in a leaf
STEEPNESS: Final = (1.0, 6.0)  # bounds of the power by which a cumulative hazard goes on

Hazard = Callable[[Array], Array]  # cumulative, by life used in lives of the band


@dataclass(frozen=True)
class Ahead:
    """What a peer says of a life under way.

    Parameters
    ----------
    gone_by : callable
        Chance that it is worn out by so many machine shots from now on, shape as given.
    run : callable
        Chance that it wears out in a run of so many shots, at another plant where one is named.
    """

    gone_by: Callable[[Array], Array]
    run: Callable[[float, str | None], float]


def peers(exposures: Exposures, live: LiveTools, priors: Priors) -> dict[str, dict[str, Ahead]]:
    """What each of PEERS says, by tool, of the live tools whose count of shots is on record."""
    table = peer_table(exposures, live, priors)
    bands = band_survival(exposures, live, priors)
    band = {tool: _by_band(bands(life.row)) for tool, life in table.live.items()}
    says = dict.fromkeys(PEERS, band)
    if table.lives.wear_outs < LEAST_WEAR_OUTS:
        return says
    pooled = fit_aft(table.lives, 0.0, np.inf, plain=True)
    aft = fit_aft(table.lives, *chosen(table.lives, held_out_aft))
    cox = fit_cox(table.lives, *chosen(table.lives, held_out_cox))
    forest = fit_forest(table.lives, *chosen(table.lives, held_out_forest, product(LEAVES, (False, True))), TREES)
    joined = joined_steps(cox.times, cox.hazard)
    for name, says_of in (
        ("pooled_weibull", lambda life: _by_weibull(pooled, life, table)),
        ("weibull_aft", lambda life: _by_weibull(aft, life, table)),
        ("cox", lambda life: _by_hazard(lambda at: _cox_hazard(cox, joined, at), life, table)),
        ("survival_forest", lambda life: _by_hazard(forest.hazard, life, table)),
    ):
        says[name] = {tool: says_of(life) for tool, life in table.live.items()}
    return says


def _by_band(good: Callable[[Array], Array]) -> Ahead:
    return Ahead(lambda shots: np.asarray(1.0 - good(shots)), lambda shots, _: float(1.0 - good(np.array([shots]))[0]))


def _by_weibull(law: WeibullAft, life: LiveLife, table: PeerTable) -> Ahead:
    """Life used so far counts in the same share of a life wherever the tool goes: the cumulative exposure of Nelson 1980."""
    shape = np.exp(law.log_shape)

    def used(of: LiveLife) -> float:
        return float(np.exp(-law.log_life(of.covariates, of.groups)))

    now, here = life.age * used(life), used(life)

    def gone_by(shots: Array, per_life: float = here) -> Array:
        return np.asarray(-np.expm1(now**shape - (now + np.asarray(shots) / life.band * per_life) ** shape))

    def run(shots: float, plant_id: str | None) -> float:
        return float(gone_by(np.array([shots]), here if plant_id is None else used(table.moved(life, plant_id)))[0])

    return Ahead(gone_by, run)


def _by_hazard(hazard: Callable[[LiveLife], Hazard], life: LiveLife, table: PeerTable) -> Ahead:
    """Covariates are averaged over the life as it will be when the run is done."""

    def between(of: Hazard, shots: Array) -> Array:
        ages = life.age + np.append(np.asarray(shots) / life.band, 0.0)
        at = of(ages)
        return np.asarray(-np.expm1(at[-1] - at[:-1]))

    here = hazard(life)

    def run(shots: float, plant_id: str | None) -> float:
        if plant_id is None:
            return float(between(here, np.array([shots]))[0])
        there, share = table.moved(life, plant_id), shots / life.band / (life.age + shots / life.band)
        mixed = replace(
            life,
            covariates=(1.0 - share) * life.covariates + share * there.covariates,
            groups=(1.0 - share) * life.groups + share * there.groups,
        )
        return float(between(hazard(mixed), np.array([shots]))[0])

    return Ahead(lambda shots: between(here, shots), run)


def _cox_hazard(cox: Cox, joined: Hazard, life: LiveLife) -> Hazard:
    ratio = np.exp(cox.log_hazard_ratio(life.covariates, life.groups))
    return lambda ages: np.asarray(ratio * joined(ages))


def joined_steps(times: Array, hazard: Array) -> Hazard:
    """A cumulative hazard that steps at some times to some values, joined by straight lines in logs between the middles of its steps.

    Before the first and after the last it is a power, fitted to all of them in logs, each by how many events it rests on.
    """
    at, last = np.unique(times, return_index=True)
    value = np.maximum.reduceat(hazard, last)
    middle = 0.5 * (value + np.append(0.0, value[:-1]))
    rises = (np.diff(np.append(0.0, value)) > 0) & (at > 0)
    x, y = np.log(at[rises]), np.log(middle[rises])
    if len(x) == 0:
        return lambda ages: np.zeros(len(ages))
    power = float(np.clip(np.polyfit(x, y, 1, w=np.sqrt(middle[rises]))[0], *STEEPNESS)) if len(x) > 1 else 2.0

    def of(ages: Array) -> Array:
        log_age = np.log(np.maximum(ages, 1e-12))
        inside = np.interp(log_age, x, y)
        outside = np.minimum(log_age - x[0], 0.0) + np.maximum(log_age - x[-1], 0.0)
        return np.asarray(np.exp(inside + power * outside))

    return of


@dataclass(frozen=True)
class Forest:
    """A survival forest on covariates and groups, of all of them or of the broad ones."""

    forest: Any
    kept: Array

    def hazard(self, life: LiveLife) -> Hazard:
        return self.hazards(life.covariates[None, :], life.groups[None, :])[0]

    def hazards(self, covariates: Array, groups: Array) -> list[Hazard]:
        x = np.concatenate([covariates, groups[:, self.kept]], axis=1)
        table = self.forest.predict_cumulative_hazard_function(x, return_array=True)
        return [joined_steps(self.forest.unique_times_, row) for row in table]


def fit_forest(lives: PeerLives, leaf: int, every_level: bool, trees: int) -> Forest:
    """Fit a survival forest; a renewal of unstated cause counts as the likelier of the two."""
    kept = np.ones_like(lives.broad) if every_level else lives.broad
    x = np.concatenate([lives.covariates, lives.groups[:, kept]], axis=1)
    forest = RandomSurvivalForest(trees, min_samples_leaf=leaf, min_samples_split=2 * leaf, max_features="sqrt", random_state=1)
    forest.fit(x, Surv.from_arrays(lives.event >= 0.5, lives.middle))
    return Forest(forest, kept)


def held_out_forest(train: PeerLives, test: PeerLives, leaf: int, every_level: bool) -> float:
    """Log-likelihood of held-out lives; a hazard is the mean over a tenth of the life to each side."""
    if not (train.event >= 0.5).any():
        return 0.0
    fitted, total = fit_forest(train, leaf, every_level, TREES_TRIED), 0.0
    for i, hazard in enumerate(fitted.hazards(test.covariates, test.groups)):
        end = test.middle[i]
        entry, at, low, high = hazard(np.array([max(test.entry[i], 1e-12), end, 0.9 * end, 1.1 * end]))
        total += entry - at + test.event[i] * np.log(max((high - low) / (0.2 * end), 1e-6))
    return float(total)
