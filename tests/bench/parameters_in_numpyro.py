"""Parameters of `in_numpyro.model` from the sampler's coordinates, which are those of `wearfit.model.parameters`, written anew."""

from typing import Any

import jax
import jax.numpy as jnp
from indexed_sums import take

Array = Any
Arrays = dict[str, Any]


def placed(z: Array, w: Array, slot: Array, d: Arrays) -> tuple[Array, Array, Array, Array]:
    """All parameters; what of z is standard normal; and how far below nought slots lie, and how far about that."""
    spread = take(w * d["group_prior"][0] * d["group_prior"][1], d["by_group"])
    square = take((w * d["group_prior"][0]) ** 2, d["by_group"])
    scale = jnp.sqrt(1.0 + square * d["slot_told"])
    middle = spread * d["slot_score"] / scale
    upright = z - d["lean"] @ _contrasts(spread * (slot + middle) / scale, d)
    of_air = _products(upright, d)
    standard = upright - d["lean_on_air"] @ of_air
    of_z, n = d["root"] @ standard, d["coefficient_loc"].shape[0]
    coefficients, plants = d["coefficient_loc"] + of_z[:n], of_air.shape[0]
    between = jnp.zeros(slot.shape[0] - 2 * plants)
    of_stops = _stops_beyond_lines(coefficients, d) @ d["contrast"][-plants:, -plants:]
    beyond = jnp.concatenate([of_air @ d["contrast"][:plants, :plants], between, of_stops])
    alone = jnp.concatenate([d["plant_told"][0], between, d["plant_told"][1]])
    middle = middle - spread * scale * alone / (1.0 + square * alone) * beyond
    effects = _contrasts(spread * (slot + middle) / scale, d)
    return jnp.concatenate([coefficients, effects, of_z[n:]]), standard, middle, scale


def _products(upright: Array, d: Arrays) -> Array:
    """What plants' air brings beyond lines in slopes and in what is not known of it."""
    slopes, errors, n = d["plant_slopes"], d["plant_error"], d["coefficient_loc"].shape[0]
    of_z = d["root"] @ upright
    effects = jnp.zeros(d["likely"].shape[0] - of_z.shape[0])
    beyond = jnp.concatenate([d["coefficient_loc"] + of_z[:n], effects, of_z[n:]]) - d["likely"]
    return (d["plant_spread"] * beyond[errors] * beyond[slopes]).sum(axis=1)


def _stops_beyond_lines(coefficients: Array, d: Arrays) -> Array:
    """By plant: log of the sudden stops to be expected without its effect, less the tangent at the likeliest coefficients."""

    def logged(at: Array) -> Array:
        return jnp.log(jnp.maximum(usual_stops(at, d).sum(axis=0), 1e-30))

    likely = d["likely"][: coefficients.shape[0]]
    at, tangent = jax.jvp(logged, (likely,), (coefficients - likely,))
    return logged(coefficients) - at - tangent


def _contrasts(along: Array, d: Arrays) -> Array:
    """Effects by slot, those of the contrasted groups summing to zero over the levels seen."""
    start = d["before"].shape[0]
    stop = start + d["mirrored"].shape[0]
    turned = d["contrast"] @ jnp.concatenate([along[:start], along[stop:]])
    counted = along[start:stop] * d["mirror"][1]
    mirror = counted - (counted @ d["mirror"][0]) * d["mirror"][0]
    return jnp.concatenate([turned[:start], mirror, turned[start:]])


def usual_stops(p: Array, d: Arrays) -> Array:
    """By class and plant: sudden stops to be expected where the plant's effect is nought."""
    _, lives, handlings = d["sudden"]
    by_shots = jnp.exp(p[d["log_sudden_per_life"]] - p[d["class_offset"]])[:, None] * lives
    return by_shots + jnp.exp(p[d["log_sudden_per_handling"]]) * handlings
