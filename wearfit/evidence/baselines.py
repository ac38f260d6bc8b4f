"""What the owner would do without the model: trust the class band, or fit a law that any statistics package fits.

Each counts machine shots since the last renewal. `class_band`: the life of a new tool of its class, or of the band on its purchase
order, as the priors read it, with nothing learnt. `pooled_weibull`: one law for all lives, each in units of its tool's band, by maximum
likelihood. `weibull_aft`: the accelerated failure time model with the covariates that the wear clock has, averaged over each life,
and one for refurbished surfaces, with late entry; its slopes are held by a ridge. A renewal for a cause not stated is a wear-out with
the chance that priors and stated causes give it; lives that began an unknown number of shots before the records are left out.
"""

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from wearfit.errors import Refusal
from wearfit.evidence.forecaster import Forecaster, from_survival
from wearfit.evidence.life_table import KINDS, life_table, unstated_wear
from wearfit.evidence.weibull import Lives, Weibull, fit_weibull
from wearfit.exposures.classes import BANDED, OWN_BAND
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, class_log_band, log_band
from wearfit.model.priors import Priors

Array = np.ndarray

CLASS_BAND, POOLED_WEIBULL, WEIBULL_AFT = "class_band", "pooled_weibull", "weibull_aft"
BASELINES: Final = (CLASS_BAND, POOLED_WEIBULL, WEIBULL_AFT)
LEAST_WEAR_OUTS: Final = 3  # for a law of two numbers
RIDGE: Final = 4.0  # slopes of standardised covariates are about 0, give or take a half: judgement


def baselines(exposures: Exposures, live: LiveTools, priors: Priors) -> dict[str, Forecaster]:
    """The three rivals at the day of a history, for the live tools whose count of shots is on record.

    Raises
    ------
    Refusal
        Where the history holds too few wear-outs at a known count of shots for a law to be fitted.
    """
    table = life_table(exposures, priors)
    seen = int((table.worn & ~table.unstated).sum())
    if seen < LEAST_WEAR_OUTS:
        raise Refusal(
            f"By {exposures.as_of} the records know of {seen} wear-outs at a known count of shots, too few to fit a law to compare with.",
            "Name later days with --on, or fill in opening_life_shots.",
        )
    lives = Lives(table.entry, table.good, table.end, table.interval, table.worn, table.unstated, unstated_wear(exposures, priors))
    pooled = fit_weibull(lives, offset=table.log_band)
    # Slopes of what is all but constant, such as one plant, are held near zero by the ridge.
    aft = fit_weibull(lives, table.covariates, table.log_band, ridge=RIDGE)
    # Row of the table that tells of each live tool: its life under way, else its last one; -1 where it has none.
    last = np.full(len(exposures.tools.tool_id), -1)
    last[table.tool] = np.arange(len(table.tool))  # in order of time, so that the last of a tool stays
    at = last[live.tool]
    tools = exposures.tools.tool_id
    known = [row for row in range(len(live.tool)) if not np.isnan(live.shots_this_life[row]) and at[row] >= 0]
    bands = band_survival(exposures, live, priors)

    def remaining(law: Weibull, row: int) -> Callable[[Array], Array]:
        covariates = table.covariates[at[row]].copy()
        covariates[KINDS.index("refurbished")] = exposures.episodes.repeat[live.episode[row]]
        log_eta = table.log_band[at[row]] + law.log_life(covariates[: len(law.slopes)])
        return _survival(law.shape, float(log_eta), float(live.shots_this_life[row]))

    return {
        CLASS_BAND: from_survival({tools[live.tool[row]]: bands(row) for row in known}),
        POOLED_WEIBULL: from_survival({tools[live.tool[row]]: remaining(pooled, row) for row in known}),
        WEIBULL_AFT: from_survival({tools[live.tool[row]]: remaining(aft, row) for row in known}),
    }


def _survival(shape: float, log_eta: float, age: float) -> Callable[[Array], Array]:
    """Survival of a tool of some age by shots from now on."""

    def good(shots: Array) -> Array:
        at = np.log(np.maximum(np.append(age + shots, age), 1e-300))
        hazard = np.exp(shape * (at - log_eta))
        return np.asarray(np.exp(hazard[-1] - hazard[:-1]))

    return good


def band_survival(exposures: Exposures, live: LiveTools, priors: Priors) -> Callable[[int], Callable[[Array], Array]]:
    """Survival by shots from now on of a live tool, by the band of its class, by its own, or by the mixture of all classes."""
    offsets, tools = band_offsets(priors), exposures.tools
    by_class, of_candidate = class_log_band(priors, offsets), log_band(exposures, priors, offsets)
    first = np.searchsorted(exposures.candidates.tool, live.tool, side="left")

    def of_row(row: int) -> Callable[[Array], Array]:
        age, service_class = float(live.shots_this_life[row]), int(tools.service_class[live.tool[row]])
        if service_class == OWN_BAND:
            kinds: Mapping[int, float] = {OWN_BAND: float(of_candidate[first[row]])}
        elif service_class >= 0:
            kinds = {service_class: float(by_class[service_class])}
        else:
            kinds = {c: float(by_class[c]) for c in range(BANDED)}

        def alive(shots: Array) -> Array:
            log_shots = np.log(np.maximum(shots, 1e-9))
            return np.asarray(np.mean([offsets.survivals(c, log_shots - band) for c, band in kinds.items()], axis=0))

        return lambda shots: np.asarray(alive(age + np.asarray(shots)) / alive(np.array([age])))

    return of_row
