"""One call from exposures to a calibration."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from wearfit.calibration import MOST_DRAWS, Calibration
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.law import WEIBULL
from wearfit.model.assemble import assemble
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import Flat, flatten
from wearfit.model.gate import Diagnostics
from wearfit.model.layout import Layout
from wearfit.model.looks import look_at_groups, look_at_tools, look_at_top
from wearfit.model.posterior import Rows, summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors
from wearfit.model.sampler import CAREFUL, DRAWS, MORE_DRAWS, Chains, Compiled, compile_model, sample, sample_by_trees

RETRIES: Final = 2  # how often chains that do not pass the gate go on, or others start
TREES: Final = 3  # times as many draws as trajectories begin with are asked of trees

Report = Callable[[str, float], None]  # stage ("prepare", "compile", "sample", "summarise"), share of it done


@dataclass(frozen=True)
class Outcome:
    """A calibration and how it came about."""

    calibration: Calibration
    diagnostics: Diagnostics
    seconds: dict[str, float]  # prepare, compile, sample
    compiled: Compiled  # good for the next history of its layout
    data: ModelData  # that it was sampled on
    flat: Flat  # its draws, as the sampler's coordinates


def calibrate(
    exposures: Exposures,
    live: LiveTools,
    fingerprint: str,
    priors: Priors,
    seed: int,
    compiled: Compiled | None = None,
    report: Report = lambda stage, share: None,
    cores: int | None = None,
    layout: Layout | None = None,
    wear_law: int = WEIBULL,
    law_chosen: str = "",
) -> Outcome:
    """Calibrate the wear clock on a history.

    Parameters
    ----------
    exposures, live
        Of the same records.
    fingerprint : str
        Of those records.
    compiled : Compiled, optional
        A model compiled before; used where its layout and law are those of this calibration, compiled anew where not: draws depend on
        the layout.
    report : callable
        Told the stage and how much of it is done.
    layout : Layout, optional
        One that holds the history, for several histories that are to share a compiled model; the smallest by default.
    wear_law : int
        Place in `law.LAWS`.
    law_chosen : str
        Why that law, kept with the calibration.

    Returns
    -------
    Outcome
        Whether or not the gate was passed: `diagnostics.passed`.

    Raises
    ------
    Refusal
        Where the records hold nothing to learn from.
    """
    start = time.perf_counter()
    report("prepare", 0.0)
    layout = layout or layout_of(exposures)
    data = prepare(exposures, priors, layout)
    prepared = time.perf_counter()
    if compiled is None or not compiled.serves(layout, wear_law):
        report("compile", 0.0)
        compiled = compile_model(data, layout, wear_law)
    ready = time.perf_counter()
    data = compiled.laid(data, wear_law)
    flat, rows, diagnostics = _sample_until_passed(exposures, live, data, layout, compiled, seed, report, cores, wear_law)
    sampled = time.perf_counter()
    report("summarise", 0.0)
    calibration = assemble(
        exposures, live, fingerprint, priors, seed, data, layout, flat, rows, diagnostics.as_dict(), wear_law, law_chosen
    )
    seconds = {
        "prepare": prepared - start,
        "compile": ready - prepared,
        "sample": sampled - ready,
        "summarise": time.perf_counter() - sampled,
    }
    return Outcome(calibration, diagnostics, seconds, compiled, data, flat)


def _sample_until_passed(
    exposures: Exposures,
    live: LiveTools,
    data: ModelData,
    layout: Layout,
    compiled: Compiled,
    seed: int,
    report: Report,
    cores: int | None,
    wear_law: int,
) -> tuple[Flat, Rows, Diagnostics]:
    """Trajectories that fall short go on. Where they diverge, or still do, trees draw anew, with smaller steps if they diverge too.

    What comes of draws for tools is worked out once the rest is known, for of a large fleet that takes as long as hundreds of draws.
    """
    draws, careful, chains = DRAWS, 0, None
    effort: Any = {"cores": cores, "progress": lambda share: report("sample", share), "wear_law": wear_law}

    def groups(found: Diagnostics, of: Chains) -> Diagnostics:
        return look_at_groups(found, of, data, layout, exposures)

    for retry in range(RETRIES + 1):
        if careful:
            chains = sample_by_trees(compiled, data, seed, TREES * DRAWS, target_accept=CAREFUL[careful - 1], **effort)
            found = groups(look_at_top(chains, data, layout), chains)
        else:
            chains, found = _walked(compiled, data, seed, draws, chains, groups, effort)
            draws = 2 * chains.energy.shape[1]
        last = retry == RETRIES
        if found.passed or last:
            flat = flatten(chains, MOST_DRAWS)
            rows = summarise_rows(flat, data, layout, exposures, live.tool, live.episode, seed, wear_law)
            found = look_at_tools(found, rows)
            if found.passed or last:
                return flat, rows, found
            del flat, rows  # of a large fleet they are gigabytes, and as many come
        if found.diverged or retry == RETRIES - 1:
            careful += 1
    raise AssertionError("the loop returns")


def _walked(
    compiled: Compiled,
    data: ModelData,
    seed: int,
    draws: int,
    chains: Chains | None,
    groups: Callable[[Diagnostics, Chains], Diagnostics],
    effort: Any,
) -> tuple[Chains, Diagnostics]:
    """So many draws by trajectories, and at first up to twice as many: until the top and the groups are known, which is soon looked at."""
    most = draws if chains else 2 * draws
    while True:
        chains = sample(compiled, data, seed, draws, after=chains, **effort)
        found = look_at_top(chains, data, compiled.layout)
        if found.passed:
            found = groups(found, chains)
        if found.passed or found.diverged or draws >= most:
            return chains, found
        draws = min(draws + MORE_DRAWS, most)
