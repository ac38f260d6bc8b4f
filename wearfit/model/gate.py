"""The gate: whether the chains agree well enough for a calibration to be used.

Limits: R-hat, bulk and tail ESS after Vehtari et al. 2021 (`agreement`); E-BFMI after Betancourt 2016.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

import numpy as np
from arviz_stats.base import array_stats

from wearfit.model.agreement import agreement

Array = np.ndarray

RHAT_TOP: Final = 1.01
RHAT_GROUP: Final = 1.02
LEAST_ESS: Final = 400.0
MOST_DIVERGENT: Final = 0.001  # share of draws
LEAST_EBFMI: Final = 0.3


@dataclass(frozen=True)
class Diagnostics:
    """The worst that the gate saw, NaN where nothing could be judged; `reasons` says in words why it was not passed."""

    rhat_max: float
    ess_bulk_min: float
    ess_tail_min: float
    divergences: int
    ebfmi_min: float
    passed: bool
    reasons: tuple[str, ...]
    draws: int
    tune: int
    leapfrog_mean: float  # gradients a draw

    @property
    def diverged(self) -> bool:
        """Whether more draws diverged than may."""
        return self.divergences > MOST_DIVERGENT * self.draws

    def as_dict(self) -> dict[str, Any]:
        return asdict(self) | {"reasons": list(self.reasons)}


def judge(top: Mapping[str, Array], diverging: Array, energy: Array, steps: Array, tune: int) -> Diagnostics:
    """Judge chains.

    Parameters
    ----------
    top : arrays, shape (chain, draw, level), by name
        Top-level parameters. Levels that do not vary are left out.
    diverging, energy, steps : arrays, shape (chain, draw)

    Notes
    -----
    Limits are asked as "not within", so that a statistic that is no number, as of chains that each stand still, does not pass.
    """
    reasons, divergent = [], int(diverging.sum())
    if divergent > MOST_DIVERGENT * diverging.size:
        reasons.append(f"{divergent} of {diverging.size} draws diverged")
    with np.errstate(divide="ignore", invalid="ignore"):
        ebfmi = float(np.min(array_stats.bfmi(energy, chain_axis=0, draw_axis=1)))
    if not ebfmi > LEAST_EBFMI:
        reasons.append(f"E-BFMI {ebfmi:.2f} is not above {LEAST_EBFMI:g}")
    of_chains = Diagnostics(
        rhat_max=np.nan,
        ess_bulk_min=np.nan,
        ess_tail_min=np.nan,
        divergences=divergent,
        ebfmi_min=ebfmi,
        passed=not reasons,
        reasons=tuple(reasons),
        draws=int(diverging.size),
        tune=tune,
        leapfrog_mean=float(steps.mean()),
    )
    return further(of_chains, top, RHAT_TOP)


def further(before: Diagnostics, quantities: Mapping[str, Array], limit: float = RHAT_GROUP) -> Diagnostics:
    """What was found of chains, and what is found of more of their quantities, arrays as `top` in `judge`: group effects and the like."""
    reasons: list[str] = []
    rhats, bulks, tails = [before.rhat_max], [before.ess_bulk_min], [before.ess_tail_min]
    for name, values in quantities.items():
        if not np.isfinite(values).all():
            reasons.append(f"{name}: some draws are not finite")
            continue
        moving = values[..., values.std(axis=(0, 1)) > 1e-12]
        if not moving.shape[-1]:
            continue
        each = agreement(moving)
        rhat, bulk, tail = np.max(each.rhat), np.min(each.bulk), np.min(each.tail)
        if not rhat <= limit:
            reasons.append(f"{name}: R-hat {rhat:.3f} is above {limit:g}")
        if not np.minimum(bulk, tail) >= LEAST_ESS:
            reasons.append(f"{name}: only {np.minimum(bulk, tail):.0f} effective draws, {LEAST_ESS:.0f} are wanted")
        rhats.append(float(rhat))
        bulks.append(float(bulk))
        tails.append(float(tail))
    return replace(
        before,
        rhat_max=float(np.fmax.reduce(rhats)),
        ess_bulk_min=float(np.fmin.reduce(bulks)),
        ess_tail_min=float(np.fmin.reduce(tails)),
        passed=before.passed and not reasons,
        reasons=before.reasons + tuple(reasons),
    )
