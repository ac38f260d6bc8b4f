"""One fit of simulation-based calibration, wherever it is done: a process compiles the model once."""

from dataclasses import asdict, dataclass
from functools import cache

from rank_fits import Effort, Fit, compiled_for_all, fit

from wearfit.model.priors import parse_priors
from wearfit.model.sampler import Compiled


@dataclass(frozen=True)
class RankedFleet:
    """Simulates a fleet by its seed, refits it and ranks its truth, on so many cores.

    Parameters
    ----------
    priors : str
        Text of the priors file.
    """

    priors: str
    effort: Effort
    cores: int | None

    def __call__(self, seed: int) -> Fit:
        return fit(_compiled(self.priors, self.effort), parse_priors(self.priors), seed, self.effort, cores=self.cores)


def row_of(one: Fit) -> dict[str, object]:
    """As the file of results has it, without its ranks."""
    return {"seed": one.seed, "passed": one.passed, **{k: round(v, 3) for k, v in asdict(one.mixing).items()}, "wear_outs": one.wear_outs}


@cache
def _compiled(priors: str, effort: Effort) -> Compiled:
    return compiled_for_all(parse_priors(priors), effort)
