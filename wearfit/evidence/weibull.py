"""A Weibull law fitted by maximum likelihood, with or without covariates, as a general-purpose library fits it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import minimize

from wearfit.model.clock import Clock
from wearfit.model.likelihood import row_log_likelihood

Array = np.ndarray

SETTLED: Final = 1e-2  # of the gradient at the maximum, for the sum over lives


@dataclass(frozen=True)
class Weibull:
    """A fitted law: log characteristic life is `log_scale` and, for each covariate, a slope times its value.

    Parameters
    ----------
    log_scale, shape : float
    slopes : array, shape (covariate,)
    log_likelihood : float
        At the fit, of the lives alone.
    """

    log_scale: float
    shape: float
    slopes: Array
    log_likelihood: float

    def log_life(self, covariates: Array) -> Array:
        """Log characteristic life at some covariates (life, covariate), less the offset of each life; shape (life,)."""
        return np.asarray(self.log_scale + covariates @ self.slopes)


@dataclass(frozen=True)
class Lives:
    """What is known of each life. Arrays of shape (life,); times in one unit.

    Parameters
    ----------
    entry : array
        From which it was watched: a life that ended before is not among these (left truncation).
    good, end : arrays
        Equal but where it wore out in between.
    interval, worn : bool arrays
    unstated : bool array
        It was ended for a cause that nobody stated, which was wear with chance `wear_share`.
    """

    entry: Array
    good: Array
    end: Array
    interval: Array
    worn: Array
    unstated: Array
    wear_share: float = 0.5


def fit_weibull(lives: Lives, covariates: Array | None = None, offset: Array | float = 0.0, ridge: float = 0.0) -> Weibull:
    """Fit by maximum likelihood, with late entry, right and interval censoring, and causes that nobody stated.

    Parameters
    ----------
    covariates : array, shape (life, covariate), optional
        One that never varies has no slope.
    offset : array, shape (life,), or float
        Added to each life's log characteristic life as it stands.
    ridge : float
        Half of it times the square of each slope, the covariate taken in its standard deviations, is held against the fit; 0 for plain
        maximum likelihood.

    Raises
    ------
    ValueError
        Where no life is known to have worn out, or the search does not settle.

    Notes
    -----
    The likelihood is the model's own, `row_log_likelihood`, with shots for wear: a renewal without a stated cause is a wear-out with
    chance `wear_share` where the hazard is one wear-out in the usual time of these lives, which is kinder to this rival than to leave
    it out or to take it for a wear-out.
    """
    if not (lives.worn & ~lives.unstated).any():
        raise ValueError("no life wore out")
    x = np.zeros((len(lives.end), 0)) if covariates is None else np.asarray(covariates, dtype=float)
    spread = x.std(axis=0)
    varies = spread > 1e-9 * (1.0 + np.abs(x).max(axis=0, initial=0.0))
    centre, spread = x.mean(axis=0), np.where(varies, spread, 1.0)
    z = ((x - centre) / spread)[:, varies]
    unit = float(np.log(np.average(lives.end, weights=lives.end)))
    clock = Clock(lives.entry, lives.good, lives.end, np.zeros(len(lives.end)))
    kinds = (lives.interval.astype(float), lives.worn.astype(float), lives.unstated.astype(float))
    shift = np.broadcast_to(np.asarray(offset, dtype=float), lives.end.shape)
    start_scale = unit - float(np.average(shift, weights=lives.end))

    def log_likelihood(p: Array) -> float:
        log_eta = start_scale + p[0] + shift + z @ p[2:]
        share = np.array(lives.wear_share)
        return float(np.sum(row_log_likelihood(clock, log_eta, np.exp(p[1]), share, *kinds, log_reference=-(start_scale + shift))))

    def loss(p: Array) -> float:
        return -log_likelihood(p) + 0.5 * ridge * float(p[2:] @ p[2:])

    with np.errstate(over="ignore", invalid="ignore"):  # steps too long on the way
        found = minimize(loss, np.zeros(2 + z.shape[1]), method="BFGS", jac="3-point", options={"gtol": 1e-4})
    if not np.max(np.abs(np.asarray(found.jac, dtype=float))) < SETTLED:
        raise ValueError(f"no maximum found: {found.message}")
    slopes = np.zeros(x.shape[1])
    slopes[varies] = found.x[2:] / spread[varies]
    return Weibull(float(start_scale + found.x[0] - centre @ slopes), float(np.exp(found.x[1])), slopes, log_likelihood(found.x))
