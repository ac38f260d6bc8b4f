"""What one reading says, as compiled functions: the density of its error, sound or a fault of the process, and how that changes.

For one below the gauge it is the distribution function. All is as `growth` has it.
"""

from math import log, log1p, sqrt
from typing import Final

from numba.extending import register_jitable

from wearfit.growth import FAULT, FAULT_HEIGHT, FAULT_NOISE, FAULT_VARIANCE, LEAST_CURVATURE, LOG_PEAK

SOUND_PEAK: Final = LOG_PEAK + log1p(-FAULT)


@register_jitable
def tail_and_density(x: float) -> tuple[float, float]:
    """Of t with four degrees of freedom: the probability beyond |x| on one side, and the density."""
    square = x * x
    far = (square + 4.0) * sqrt(square + 4.0)
    part = 1.0 + 0.25 * square
    return (6.0 * square + 32.0) / (far * (far + abs(x) * (square + 6.0))), 0.375 / (part * part * sqrt(part))


@register_jitable
def log_below(error: float, noise: float) -> float:
    """Log of the chance that a reading lies below the gauge's least."""
    tail = (1.0 - FAULT) * tail_and_density(error / noise)[0] + FAULT * tail_and_density(error / FAULT_NOISE)[0]
    return log(tail) if error < 0.0 else log1p(-tail)


@register_jitable
def below_parts(error: float, noise: float) -> tuple[float, float, float, float]:
    """Of `log_below`: its slope, that of sound readings alone, minus its curvature, and that of sound readings alone."""
    x, y = error / noise, error / FAULT_NOISE
    tail, density = tail_and_density(x)
    fault_tail, fault_density = tail_and_density(y)
    beyond = (1.0 - FAULT) * tail + FAULT * fault_tail
    chance = beyond if error < 0.0 else 1.0 - beyond
    sound, fault = (1.0 - FAULT) * density / (noise * chance), FAULT * fault_density / (FAULT_NOISE * chance)
    sound_bend, fault_bend = sound * 5.0 * x / ((4.0 + x * x) * noise), fault * 5.0 * y / ((4.0 + y * y) * FAULT_NOISE)
    return sound + fault, sound, (sound + fault) ** 2 + sound_bend + fault_bend, sound_bend


@register_jitable
def fault_over_sound(square: float, variance: float) -> float:
    """Odds that a reading is a fault, by the square of its error."""
    closer = (1.0 + 0.25 * square / variance) / (1.0 + 0.25 * square / FAULT_VARIANCE)
    return FAULT_HEIGHT * sqrt(variance * closer) * closer * closer


@register_jitable
def sound_share(square: float, variance: float) -> tuple[float, float, float]:
    """Chance that a reading is sound, and its pull over its error if it is, and if it is a fault."""
    sound = 1.0 / (1.0 + fault_over_sound(square, variance))
    return sound, 5.0 / (4.0 * variance + square), 5.0 / (4.0 * FAULT_VARIANCE + square)


@register_jitable
def pull_and_bend(error: float, variance: float, below: bool) -> tuple[float, float, float]:
    """How hard a reading pulls, how that grows with its error, and a weight above zero where it does not."""
    if below:
        noise = sqrt(variance)
        slope, _, bend, _ = below_parts(error, noise)
        return -slope, bend, max(bend, LEAST_CURVATURE * slope / noise)
    square = error * error
    sound, near, far = sound_share(square, variance)
    weight = sound * near + (1.0 - sound) * far
    bend = sound * near * (1.0 - 0.4 * square * near) + (1.0 - sound) * far * (1.0 - 0.4 * square * far)
    bend -= sound * (1.0 - sound) * square * (near - far) ** 2
    return weight * error, bend, max(bend, LEAST_CURVATURE * weight)


@register_jitable
def slopes(error: float, variance: float, below: bool) -> tuple[float, float]:
    """Derivatives of the log-density of one reading by its error and by the variance of its noise."""
    if below:
        slope, sound_slope, _, _ = below_parts(error, sqrt(variance))
        return slope, -0.5 * sound_slope * error / variance
    square = error * error
    sound, near, far = sound_share(square, variance)
    return -error * (sound * near + (1.0 - sound) * far), -0.5 * sound * (1.0 - near * square) / variance


@register_jitable
def bends(error: float, variance: float, below: bool) -> tuple[float, float]:
    """Derivatives of minus the first of `slopes`, the pull of a reading, by its error and by the variance of its noise."""
    if below:
        slope, sound_slope, bend, sound_bend = below_parts(error, sqrt(variance))
        by_variance = -0.5 * (sound_bend * error - sound_slope) / variance - 0.5 * slope * sound_slope * error / variance
        return bend, by_variance
    square = error * error
    sound, near, far = sound_share(square, variance)
    between = sound * (1.0 - sound) * error * (near - far)
    by_error = sound * near * (1.0 - 0.4 * square * near) + (1.0 - sound) * far * (1.0 - 0.4 * square * far)
    by_variance = -0.8 * sound * error * near * near - 0.5 * between * (1.0 - near * square) / variance
    return by_error - between * error * (near - far), by_variance


@register_jitable
def sound_slopes(error: float, variance: float) -> tuple[float, float]:
    """Derivatives of the log of the chance that a reading above the gauge's least is sound, by its error and its variance."""
    square = error * error
    sound, near, far = sound_share(square, variance)
    return -(1.0 - sound) * error * (near - far), -0.5 * (1.0 - sound) * (1.0 - near * square) / variance
