"""One call from exposures to a calibration."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.calibration import MOST_DRAWS, Calibration
from wearfit.exposures.live import LiveTools
from wearfit.exposures.table import Exposures
from wearfit.law import WEIBULL, Shape
from wearfit.model.assemble import assemble
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import Flat, flatten
from wearfit.model.gate import Diagnostics, judge
from wearfit.model.layout import COEFFICIENTS, Layout
from wearfit.model.posterior import CHUNK, Rows, log_median_capacity, summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import Priors
from wearfit.model.sampler import CAREFUL, CHAINS, DRAWS, MORE_DRAWS, Chains, Compiled, compile_model, sample, sample_by_trees
from wearfit.processors import at_once

Array = np.ndarray

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
    """Trajectories that fall short go on. Where they diverge, or still do, trees draw anew, with smaller steps if they diverge too."""
    draws, careful, chains = DRAWS, 0, None
    effort: Any = {"cores": cores, "progress": lambda share: report("sample", share), "wear_law": wear_law}
    for retry in range(RETRIES + 1):
        if careful:
            chains = sample_by_trees(compiled, data, seed, TREES * DRAWS, target_accept=CAREFUL[careful - 1], **effort)
        else:
            chains = _walked(compiled, data, seed, draws, chains, effort)
            draws = 2 * chains.energy.shape[1]
        flat = flatten(chains, MOST_DRAWS)
        rows = summarise_rows(flat, data, layout, exposures, live.tool, live.episode, seed, wear_law)
        diagnostics = diagnose(chains, flat, rows, data, layout, exposures, wear_law)
        if diagnostics.passed or retry == RETRIES:
            return flat, rows, diagnostics
        if diagnostics.diverged or retry == RETRIES - 1:
            careful += 1
        del flat, rows  # of a large fleet they are gigabytes, and as many come
    raise AssertionError("the loop returns")


def _walked(compiled: Compiled, data: ModelData, seed: int, draws: int, before: Chains | None, effort: Any) -> Chains:
    """So many draws by trajectories; at first up to twice as many, until what all else hangs on is known, which is soon looked at."""
    chains = sample(compiled, data, seed, draws, after=before, **effort)
    if before is not None:
        return chains
    for so_many in range(draws + MORE_DRAWS, 2 * draws + 1, MORE_DRAWS):
        found = judge(_top(chains, data, compiled.layout), {}, chains.diverging, chains.energy, chains.steps, chains.tune)
        if found.passed or found.diverged:
            break
        chains = sample(compiled, data, seed, so_many, after=chains, **effort)
    return chains


def _top(chains: Chains, data: ModelData, layout: Layout) -> dict[str, Array]:
    """All draws of the top-level parameters, shape (chain, draw, level)."""
    full = flatten(chains, chains.diverging.size)

    def some(chunk: slice) -> tuple[Array, Array]:
        parameters = full.parameters(data, layout, chunk)
        return parameters.all[:, : len(COEFFICIENTS)].copy(), parameters.share

    # In chunks, for with thousands of designs the effects of all draws at once would take longer than fifty draws do.
    found = at_once(some, [slice(start, start + CHUNK) for start in range(0, full.samples, CHUNK)])
    coefficients, shares = (np.concatenate(of) for of in zip(*found, strict=True))
    return {"coefficients": _by_chain(coefficients), "shares": _by_chain(shares), "scales": _by_chain(full.scales(data))}


def _by_chain(values: Array) -> Array:
    return values.reshape(CHAINS, -1, values.shape[-1])


def diagnose(
    chains: Chains,
    flat: Flat,
    rows: Rows,
    data: ModelData,
    layout: Layout,
    exposures: Exposures,
    wear_law: int = WEIBULL,
) -> Diagnostics:
    """Gate on all draws of the top-level parameters, on the kept ones of group effects and forecasts. Padding stays out."""
    kept, n = flat.parameters(data, layout), len(COEFFICIENTS)
    sizes = {
        "plant": len(exposures.plant_ids),
        "resin": len(exposures.resins.resin_id),
        "design": len(exposures.tools.design_ids),
        "maker": len(exposures.tools.maker_ids),
        "sudden_plant": len(exposures.plant_ids),
    }
    groups = {}
    for name, size in sizes.items():
        start = n + layout.block(name).start
        if size:
            groups[name] = _by_chain(kept.all[:, start : start + size])
    groups["tool"] = _by_chain(rows.tool)
    features = len(exposures.readings.feature_ids)
    if features:
        drawn = rows.features
        groups["feature"] = _by_chain(np.concatenate([a[:, :features] for a in (drawn.level, drawn.growth, drawn.noise)], axis=1))
    capacity = log_median_capacity(rows, Shape(np.exp(kept.coefficient("log_shape"))[:, 0], wear_law))
    if capacity.shape[1]:
        groups["forecast median"] = _by_chain(capacity)
    return judge(_top(chains, data, layout), groups, chains.diverging, chains.energy, chains.steps, chains.tune)
