"""The wear model of a history without readings in NumPyro, written anew: from the arrays of `plain_arrays`, without the package.

The coordinates are those of `wearfit.model.graph`, and so is the log-density: tool effects are integrated out by the same rule, even
steps from about the mode of what is sure as far as the integrand counts, on NODES places each way of which those beyond weigh nothing.
"""

from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from indexed_sums import highest, owners, take, total
from jax.scipy.special import xlog1py, xlogy
from numpyro.infer.util import potential_energy
from parameters_in_numpyro import placed, usual_stops

Array = Any
Arrays = dict[str, Any]

NODES = 10  # each way of the centre
STEP, WIDEST, NEGLIGIBLE, LEAST, TURNS = 1.0, 0.75, 9.0, 1e-300, 8
LONGEST = 12  # refurbishments whose gain is told apart
LEAST_SPENT = 1e-6
MOST_EXPONENT = 300.0  # keeps what weighs nothing finite

jax.config.update("jax_enable_x64", True)


def arranged(plain: dict[str, np.ndarray], scatter: bool = False) -> Arrays:
    """The arrays with what each sum goes over, ready for `model`."""
    d: Arrays = dict(plain)
    rows, candidates = len(d["row_chain"]), len(d["candidate_tool"])
    bounds = d["row_boundaries"]
    part = np.full(len(d["cell_place"]), 3 * rows)
    for i in range(3):
        length = bounds[:, i + 1] - bounds[:, i]
        first = np.repeat(bounds[:, i] - np.cumsum(length) + length, length)
        part[first + np.arange(length.sum())] = np.repeat(3 * np.arange(rows) + i, length)
    earlier = np.arange(rows) - d["row_chain"]
    to = np.repeat(np.arange(rows), earlier)
    of = np.arange(earlier.sum()) - np.repeat(np.cumsum(earlier) - earlier, earlier) + np.repeat(d["row_chain"], earlier)
    interval, perhaps = d.pop("ended_interval"), d.pop("ended_perhaps")
    doubt = np.flatnonzero((interval > 0) | (perhaps > 0))
    of_ended = d["row_candidate"][d["ended_row"]]
    sure = (interval <= 0) & (perhaps <= 0)
    tools, places = d["candidate_tool"].max() + 1, len(d["place_plant"])
    parameters = len(d["likely"])

    def by(index: np.ndarray, size: int) -> Any:
        return owners(np.asarray(index, dtype=np.int32), int(size), scatter)

    return d | {
        "by_group": by(d.pop("slot_group"), d["group_prior"].shape[1]),
        "by_plant": by(d.pop("place_plant"), len(d["plant_level"])),
        "by_job_parameter": by(d["job_index"].ravel(), parameters),
        "before": d["turned"][d["turned"] < d["mirrored"].min(initial=len(d["turned"]))],
        "by_place": by(d.pop("cell_place"), places),
        "by_job": by(d.pop("cell_job"), len(d["job_constant"])),
        "by_part": by(part, 3 * rows + 1),
        "by_repeats": by(np.minimum(d.pop("row_repeats"), LONGEST), LONGEST + 1),
        "by_earlier": by(of, rows),
        "by_later": by(to, rows),
        "by_parameter": by(d["candidate_index"].ravel(), parameters),
        "by_candidate": by(d["row_candidate"], candidates),
        "by_row": by(d["ended_row"], rows),
        "by_last_place": by(d.pop("row_last_place")[d["ended_row"]], places),
        "by_last_job": by(d.pop("row_last_job")[d["ended_row"]], len(d["job_constant"])),
        "by_ended": by(doubt, len(sure)),
        "ended_by_candidate": by(of_ended, candidates),
        "doubt_by_candidate": by(of_ended[doubt], candidates),
        "by_tool": by(d["candidate_tool"], tools),
        "sure": sure.astype(float),
        "in_doubt": (perhaps > 0) & (interval <= 0),
        "worn": np.bincount(of_ended, sure, candidates),
        "expected": np.bincount(of_ended, (interval > 0) & (perhaps <= 0), candidates),
        "expected_perhaps": np.bincount(of_ended, perhaps > 0, candidates),
        "doubt_interval": (interval > 0)[doubt],
        "doubt_perhaps": (perhaps > 0)[doubt],
        "endless": np.bincount(of_ended, minlength=candidates) == 0,
    }


def model(d: Arrays, nodes: int = NODES) -> None:
    """Priors of the coordinates, and the likelihood as a factor."""
    a, b, on = d["share_prior"]
    share = numpyro.sample("share", dist.Beta(a, b).to_event(1))
    w = numpyro.sample("w", dist.Normal(jnp.zeros(d["group_prior"].shape[1]), 1.0).to_event(1))
    slot = numpyro.sample("slot", dist.ImproperUniform(dist.constraints.real, (), d["slot_told"].shape))
    z = numpyro.sample("z", dist.ImproperUniform(dist.constraints.real, (), d["root"].shape[:1]))
    p, standard, middle, scale = placed(z, w, slot, d)
    numpyro.factor("coefficients", dist.Normal(0.0, 1.0).log_prob(standard).sum())
    numpyro.factor("effects", dist.Normal(-middle, scale).log_prob(slot).sum())
    tool = d["tool_group"]
    tool_spread = jnp.exp(p[d["log_shape"]]) * w[tool] * d["group_prior"][0, tool] * d["group_prior"][1, tool]
    numpyro.factor("history", log_likelihood(p, on * share + (1.0 - on) * a / (a + b), tool_spread, d, nodes))


def log_likelihood(p: Array, share: Array, tool_spread: Array, d: Arrays, nodes: int = NODES) -> Array:
    """Of parameters, shares and the tools' spread on log hazards."""
    shape, wear_share = jnp.exp(p[d["log_shape"]]), share[d["wear_share"]]
    place, job = _log_place(p, d), _log_job(p, d)
    life = d["candidate_band"] + (take(p, d["by_parameter"]).reshape(d["candidate_weight"].shape) * d["candidate_weight"]).sum(axis=1)
    entry, good, end = _run_clock(p, share, place, job, d)
    life_of_row = take(life, d["by_candidate"])
    at_good = _hazard(good, life_of_row, shape)
    survived = _hazard(entry, life_of_row, shape) - at_good

    last = take(jnp.stack([end, life_of_row, at_good], axis=1), d["by_row"])
    end, life_of_ended, at_good = last[:, 0], last[:, 1], last[:, 2]
    log_end = jnp.log(jnp.maximum(end, LEAST_SPENT))
    log_hazard = shape * (log_end - life_of_ended) + jnp.log(shape) - log_end
    per_shot = take(place, d["by_last_place"]) + take(job, d["by_last_job"])
    reference = d["coefficient_loc"][d["log_shape"]] - take(take(d["candidate_band"], d["by_candidate"]), d["by_row"])
    exact = log_hazard + per_shot - jnp.where(d["in_doubt"], reference, 0.0)
    rise = jnp.maximum(_hazard(end, life_of_ended, shape) - at_good, LEAST)
    by_candidate = _marginals(-total(survived, d["by_candidate"]), exact, rise, wear_share, tool_spread, d, nodes)
    return _mixed(by_candidate + d["candidate_log_weight"], d) + _sudden(p, d) + _causes(wear_share, d)


def _log_place(p: Array, d: Arrays) -> Array:
    value = d["plant_level"] + d["plant_spread"] * p[d["plant_error"]]
    level = p[d["plant_effect"]] + value @ p[d["plant_slopes"]]
    return take(level, d["by_plant"]) + d["place_departure"] @ p[d["month_slopes"]]


def _log_job(p: Array, d: Arrays) -> Array:
    return d["job_constant"] + (take(p, d["by_job_parameter"]).reshape(d["job_weight"].shape) * d["job_weight"]).sum(axis=1)


def _hazard(spent: Array, life: Array, shape: Array) -> Array:
    return jnp.exp(shape * (jnp.log(jnp.maximum(spent, LEAST_SPENT)) - life))


def _run_clock(p: Array, share: Array, place: Array, job: Array, d: Arrays) -> tuple[Array, Array, Array]:
    """Wear spent by each row at its entry, at its last good day and at its end."""
    amount = d["cell_shots"] + jnp.exp(p[d["log_setup"]]) * d["cell_setups"]
    wear = take(jnp.exp(place), d["by_place"]) * take(jnp.exp(job), d["by_job"]) * amount
    worn = jnp.cumsum(total(wear, d["by_part"])[:-1].reshape(-1, 3), axis=1)
    gained = jnp.log1p(-share[d["refurbish"]] * share[d["repeat"]] ** jnp.arange(LONGEST))
    kept = d["row_kept"] * take(jnp.exp(jnp.append(0.0, jnp.cumsum(gained))), d["by_repeats"])
    age = kept * total(take(worn[:, 2] / kept, d["by_earlier"]), d["by_later"])
    return age + worn[:, 0], age + worn[:, 1], age + worn[:, 2]


def _centre(worn: Array, survived: Array, s: Array) -> Array:
    """About where exp(n x - S e^x) N(u; 0, 1) is highest, by Newton's method on Wright's omega function."""
    level = jnp.log(s * s * survived) + worn * s * s
    past = level - 1.0
    omega = jnp.where(level < -2.0, jnp.exp(level), 1.0 + past * (0.5 + past * (0.0625 - past / 192.0)))
    omega = jnp.where(level < 4.0, omega, level - jnp.log(jnp.maximum(level, 1.0)))
    done = jnp.zeros(level.shape, dtype=bool)
    for _ in range(TURNS):
        short = level - jnp.log(omega) - omega
        omega = jnp.where(done, omega, omega * (1.0 + short / (1.0 + omega)))
        done = done | (short * short < 0.1 * jnp.abs(s))
    return jnp.where((s == 0.0) | (survived <= 0.0), worn * s, worn * s - omega / s)


def _gains(factor: Array, exact: Array, rise: Array, wear_share: Array, d: Arrays) -> Array:
    """What wear-outs in doubt add at each node, shape (doubt, node)."""
    sure = jnp.where(d["doubt_perhaps"], wear_share, 1.0)[:, None]
    rising = factor * rise[:, None]
    missed, through = -jnp.expm1(-rising), jnp.exp(-rising)
    hazard = factor * jnp.exp(jnp.where(d["doubt_interval"], 0.0, exact))[:, None]
    likelihood = sure * jnp.where(d["doubt_interval"][:, None], missed, hazard)
    likelihood += (1.0 - sure) * jnp.where(d["doubt_interval"][:, None], through, 1.0)
    return jnp.log(jnp.maximum(likelihood, LEAST))


def _marginals(hazard: Array, exact: Array, rise: Array, wear_share: Array, s: Array, d: Arrays, nodes: int) -> Array:
    """Log-likelihood of each candidate, its tool's effect integrated out, shape (candidate,)."""
    known = total(exact * d["sure"], d["ended_by_candidate"])
    expected = d["expected"] + wear_share * d["expected_perhaps"]
    # Where the nodes lie moves no derivative: each is a mean over the integrand.
    h, fixed, share_now = jax.lax.stop_gradient((hazard, s, expected))
    centre = _centre(d["worn"] + share_now, h, fixed)
    width = jnp.sqrt(1.0 + fixed * fixed * (h * jnp.exp(fixed * centre) + share_now))
    step = jnp.minimum(STEP / width, WIDEST / jnp.maximum(jnp.abs(fixed), 1e-3))
    steps = np.concatenate([np.arange(nodes + 1), -np.arange(1, nodes + 1)])  # to the right, then to the left
    u = centre[:, None] + step[:, None] * steps
    factor = jnp.exp(jnp.minimum(s * u, MOST_EXPONENT))
    of_doubt = take(jnp.stack([exact, rise], axis=1), d["by_ended"])
    gains = _gains(take(factor, d["doubt_by_candidate"]), of_doubt[:, 0], of_doubt[:, 1], wear_share, d)
    here = (d["worn"][:, None] * s - 0.5 * u) * u - hazard[:, None] * factor + total(gains, d["doubt_by_candidate"])
    weigh = jax.lax.stop_gradient(_counts(here, nodes))
    height = jax.lax.stop_gradient(here[:, :1])
    mass = jnp.where(weigh, jnp.exp(jnp.where(weigh, here - height, 0.0)), 0.0).sum(axis=1)
    value = known + height[:, 0] + jnp.log(mass * step / np.sqrt(2.0 * np.pi))
    # height stands in `value` without a gradient: that of its nodes is all in the mass.
    return jnp.where(d["endless"] & (h == 0.0), 0.0, value)  # nothing is known of it


def _counts(here: Array, nodes: int) -> Array:
    """Nodes up to the first, each way, that lies NEGLIGIBLE below the highest before it."""
    right, left = here[:, : nodes + 1], here[:, nodes + 1 :]
    top_right = jax.lax.cummax(right, axis=1)
    on = jnp.cumprod(right >= top_right - NEGLIGIBLE, axis=1) > 0
    reached = jnp.where(on, right, -jnp.inf).max(axis=1, keepdims=True)
    top_left = jnp.maximum(jax.lax.cummax(left, axis=1), reached)
    return jnp.concatenate([on, jnp.cumprod(left >= top_left - NEGLIGIBLE, axis=1) > 0], axis=1)


def _mixed(joint: Array, d: Arrays) -> Array:
    """Log-likelihood of all tools, each mixed over its candidates."""
    top = highest(joint, d["by_tool"])
    return (top + jnp.log(total(jnp.exp(joint - take(top, d["by_tool"])), d["by_tool"]))).sum()


def _sudden(p: Array, d: Arrays) -> Array:
    stops, expected = d["sudden"][0], jnp.exp(p[d["sudden_plant"]]) * usual_stops(p, d)
    return (stops * jnp.log(jnp.maximum(expected, 1e-30)) - expected).sum()


def _causes(wear_share: Array, d: Arrays) -> Array:
    of_wear, of_other, expected = d["causes"]
    return xlogy(of_wear, wear_share) + xlog1py(of_other, -wear_share) - expected * (1.0 - wear_share) / wear_share


def log_density(at: Arrays, d: Arrays, nodes: int = NODES) -> Array:
    """At coordinates `z`, `w`, `slot`, and `share` on the log-odds scale, its Jacobian counted."""
    return -potential_energy(model, (d, nodes), {}, at)
