"""The records calibrated under each law, and the laws held against each other."""

import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration, from_bytes, to_bytes
from wearfit.evidence.law_scores import Choice, Scores, by_weights, choose, forecast, repaired_by, without_together
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.law import LAWS, WEIBULL
from wearfit.model.calibrate import calibrate
from wearfit.model.flat_draws import Flat, flatten
from wearfit.model.layout import Layout
from wearfit.model.lives_told import compared_lives, lives_told, without_lives
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors
from wearfit.model.sampler import CHAINS, Compiled, compile_model, sample
from wearfit.model.stack import stack

Array = np.ndarray

MOST_DRAWS: Final = 1000  # of each posterior, over which a life is forecast
SALT: Final = 1000  # keeps the seeds of posteriors without lives apart
WEIGHING: Final = 0.3  # of the time that a law is scored goes into its weights, about

Report = Callable[[str, str, float], None]  # law, stage, share of it done


@dataclass(frozen=True)
class Asked:
    """What every law is calibrated on; fields as `calibrate` takes them."""

    exposures: Exposures
    live: LiveTools
    fingerprint: str
    priors: Priors
    seed: int
    layout: Layout | None = None
    cores: int | None = None


@dataclass(frozen=True)
class LawFit:
    """One law; before lives are forecast anew its scores are by weights alone."""

    name: str
    calibration: Calibration
    scores: Scores
    seconds: dict[str, float]  # by stage


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
    asked = Asked(exposures, live, fingerprint, priors, seed, layout, cores)
    models, fits = dict(compiled or {}), list[LawFit]()
    for name in LAWS:

        def told(stage: str, share: float, name: str = name) -> None:
            report(name, stage, share)

        fit = fit_law(asked, name, models, told)
        groups, anew, began = without_together(fit.scores), list[Array](), time.perf_counter()
        for lives in groups:
            anew.append(forecast_anew(asked, name, lives, models))
            told("score", WEIGHING + (1.0 - WEIGHING) * len(anew) / len(groups))
        fits.append(repaired(fit, groups, anew, time.perf_counter() - began))
    return compared(exposures, fits, models)


def fit_law(asked: Asked, name: str, models: dict[bool, Compiled], told: Callable[[str, float], None]) -> LawFit:
    """Calibrate under a law, and weigh what each life adds; models that are compiled are added to `models`, as `Comparison` has them."""
    code = LAWS.index(name)
    history = (asked.exposures, asked.live, asked.fingerprint, asked.priors, asked.seed)
    outcome = calibrate(*history, models.get(code == WEIBULL), told, asked.cores, asked.layout, code)
    models[code == WEIBULL] = outcome.compiled
    # As the store would give it back, for it is asked for forecasts here.
    calibration = from_bytes(to_bytes(outcome.calibration))
    began = time.perf_counter()
    layout, flat = outcome.compiled.layout, _thinned(outcome.flat)
    whole = lives_told(flat, outcome.data, layout, asked.exposures, code, told=lambda share: told("score", WEIGHING * share))
    scores = by_weights(whole.log_likelihood)
    return LawFit(name, calibration, scores, {**outcome.seconds, "score": time.perf_counter() - began})


def forecast_anew(asked: Asked, name: str, places: Array, models: dict[bool, Compiled]) -> Array:
    """Log predictive density, shape (life,), of the lives at these places among those compared, from a posterior without all of them."""
    code, layout = LAWS.index(name), asked.layout or layout_of(asked.exposures)
    data, lives = prepare(asked.exposures, asked.priors, layout), compared_lives(asked.exposures)[places]
    model = models.get(code == WEIBULL)
    if model is None or not model.serves(layout, code):
        models[code == WEIBULL] = model = compile_model(data, layout, code)
    data = model.laid(data, code)
    less = without_lives(data, asked.exposures, lives)
    # Only as many draws as are looked at.
    chains = sample(model, less, asked.seed + SALT + int(places[0]), MOST_DRAWS // CHAINS, cores=asked.cores, wear_law=code)
    return forecast(lives_told(flatten(chains, MOST_DRAWS), data, layout, asked.exposures, code, lives).log_likelihood)


def repaired(fit: LawFit, groups: list[Array], anew: list[Array], seconds: float) -> LawFit:
    """A law with the scores of some lives, group by group, from posteriors without them, which took so long."""
    took = {**fit.seconds, "score": fit.seconds["score"] + seconds}
    return replace(fit, scores=repaired_by(fit.scores, groups, anew), seconds=took)


def compared(exposures: Exposures, fits: list[LawFit], models: dict[bool, Compiled]) -> Comparison:
    """Laws, in order of LAWS, held against each other."""
    elpd = np.stack([fit.scores.elpd for fit in fits], axis=1)
    every = len(np.unique(exposures.episodes.life[exposures.history.source]))
    seconds = defaultdict[str, float](float)
    for fit in fits:
        for stage, taken in fit.seconds.items():
            seconds[stage] += taken
    return Comparison(tuple(fits), choose(LAWS, elpd), len(elpd), every - len(elpd), models, dict(seconds))


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
