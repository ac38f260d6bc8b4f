"""The records calibrated under each law, and the laws held against each other."""

import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration, from_bytes, to_bytes
from wearfit.evidence.law_scores import Choice, Scores, choose, leave_one_out
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS, WEIBULL
from wearfit.model.calibrate import Outcome, calibrate
from wearfit.model.layout import Layout
from wearfit.model.lives_told import compared_lives, lives_told, without_lives
from wearfit.model.posterior import Flat, flatten
from wearfit.model.priors import Priors
from wearfit.model.sampler import CHAINS, Compiled, sample
from wearfit.model.stack import stack

Array = np.ndarray

MOST_DRAWS: Final = 1000  # of each posterior, over which a life is forecast
SALT: Final = 1000  # keeps the seeds of posteriors without lives apart
WEIGHING: Final = 0.3  # of the time that a law is scored goes into its weights, about

Report = Callable[[str, str, float], None]  # law, stage, share of it done


@dataclass(frozen=True)
class LawFit:
    """One law."""

    name: str
    calibration: Calibration
    scores: Scores


@dataclass(frozen=True)
class Comparison:
    """All laws in order of LAWS.

    Parameters
    ----------
    lives : int
        That were compared.
    ratio : int
        Lives left out, whose likelihood is a ratio and no density: renewed on a known day for a cause that nobody stated.
    compiled : dict of bool to Compiled
        Models that were compiled, by whether they are the Weibull law's; good for the next history of the layout.
    """

    fits: tuple[LawFit, ...]
    choice: Choice
    lives: int
    ratio: int
    compiled: dict[bool, Compiled]
    seconds: dict[str, float]  # of all calibrations, by stage, and of the scores

    def stacked(self, law_chosen: str) -> Calibration:
        """All laws as one calibration, by their weights."""
        return stack([fit.calibration for fit in self.fits], self.choice.weights, law_chosen)


def compare_laws(
    exposures: Exposures,
    live: LiveTools,
    fingerprint: str,
    priors: Priors,
    seed: int,
    report: Report = lambda law, stage, share: None,
    layout: Layout | None = None,
    compiled: dict[bool, Compiled] | None = None,
    cores: int | None = None,
) -> Comparison:
    """Calibrate under each law and forecast every life from the others; arguments as for `calibrate`."""
    models, fits, seconds = dict(compiled or {}), list[LawFit](), defaultdict[str, float](float)
    for code, name in enumerate(LAWS):

        def told(stage: str, share: float, name: str = name) -> None:
            report(name, stage, share)

        weibull = code == WEIBULL
        outcome = calibrate(exposures, live, fingerprint, priors, seed, models.get(weibull), told, cores, layout, code)
        models[weibull] = outcome.compiled
        # As the store would give it back, for it is asked for forecasts here.
        calibration = from_bytes(to_bytes(outcome.calibration))
        began = time.perf_counter()
        fits.append(LawFit(name, calibration, _scores(outcome, exposures, code, seed, partial(told, "score"), cores)))
        for stage, taken in {**outcome.seconds, "score": time.perf_counter() - began}.items():
            seconds[stage] += taken
    elpd = np.stack([fit.scores.elpd for fit in fits], axis=1)
    compared = len(elpd)
    every = len(np.unique(exposures.episodes.life[exposures.history.source]))
    return Comparison(tuple(fits), choose(LAWS, elpd), compared, every - compared, models, dict(seconds))


def _scores(outcome: Outcome, exposures: Exposures, code: int, seed: int, told: Callable[[float], None], cores: int | None) -> Scores:
    """`told` hears the share that is done."""
    data, layout = outcome.data, outcome.compiled.layout
    lives = compared_lives(exposures)

    def refit(places: Array) -> Array:
        less = without_lives(data, exposures, lives[places])
        # Only as many draws as are looked at.
        chains = sample(outcome.compiled, less, seed + SALT + int(places[0]), MOST_DRAWS // CHAINS, cores=cores, wear_law=code)
        return lives_told(flatten(chains, MOST_DRAWS), data, layout, exposures, code, lives[places]).log_likelihood

    whole = lives_told(_thinned(outcome.flat), data, layout, exposures, code, told=lambda share: told(WEIGHING * share))
    return leave_one_out(whole.log_likelihood, refit, lambda share: told(WEIGHING + (1.0 - WEIGHING) * share))


def _thinned(flat: Flat) -> Flat:
    keep = np.unique(np.linspace(0, flat.samples - 1, min(flat.samples, MOST_DRAWS)).round().astype(int))
    return Flat(**{name: values[keep] for name, values in vars(flat).items()})


def scores_report(c: Comparison) -> dict[str, Any]:
    """How the laws compare, as a document."""
    laws = [
        {
            "law": fit.name,
            "elpd": float(fit.scores.elpd.sum()),
            "difference": float(c.choice.difference[i]),
            "error": float(c.choice.error[i]),
            "weight": float(c.choice.weights[i]),
            "khat_max": _number(float(fit.scores.khat.max())) if len(fit.scores.khat) else None,
            "repaired": int(fit.scores.repaired.sum()),
            "together": fit.scores.together,
            "passed": bool(fit.calibration.identity.diagnostics["passed"]),
        }
        for i, fit in enumerate(c.fits)
    ]
    return {"lives": c.lives, "left_out": c.ratio, "laws": laws, "best": LAWS[c.choice.best], "chosen": c.choice.chosen}


def _number(value: float) -> float | None:
    return value if np.isfinite(value) else None
