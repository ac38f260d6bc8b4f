"""What one reading says, as compiled functions: the density of its error, sound or a fault of the process, and how that changes.

For one below the gauge it is the distribution function. All is as `growth` has it.
"""

from math import log, log1p, sqrt
from typing import Final

from numba.extending import register_jitable

from wearfit.growth import FAULT, FAULT_HEIGHT, FAULT_NOISE, FAULT_VARIANCE, LOG_PEAK, WEIGHT

SOUND_PEAK: Final = LOG_PEAK + log1p(-FAULT)
FAULT_PRECISION: Final = 1.0 / FAULT_VARIANCE
FAULT_WEIGHT: Final = WEIGHT / FAULT_VARIANCE


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
def noise_parts(variance: float) -> tuple[float, float]:
    """What the functions below ask of the variance of a reading's noise: one over it, and the odds of a fault where its error is zero."""
    return 1.0 / variance, FAULT_HEIGHT * sqrt(variance)


@register_jitable
def fault_over_sound(square: float, precision: float, odds: float) -> float:
    """Odds that a reading is a fault, by the square of its error and its `noise_parts`."""
    closer = (1.0 + 0.25 * square * precision) / (1.0 + 0.25 * square * FAULT_PRECISION)
    return odds * sqrt(closer) * closer * closer


@register_jitable
def sound_share(square: float, precision: float, odds: float) -> tuple[float, float, float]:
    """Chance that a reading is sound, and its pull over its error if it is, and if it is a fault."""
    sound_fall, fault_fall = 1.0 + 0.25 * square * precision, 1.0 + 0.25 * square * FAULT_PRECISION
    both = 1.0 / (sound_fall * fault_fall)  # divisions are what this costs
    closer = sound_fall * sound_fall * both
    sound = 1.0 / (1.0 + odds * sqrt(closer) * closer * closer)
    return sound, WEIGHT * precision * fault_fall * both, FAULT_WEIGHT * sound_fall * both


@register_jitable
def slopes(error: float, precision: float, sound: float, near: float, far: float) -> tuple[float, float]:
    """Derivatives of the log-density of one reading by its error and by the variance of its noise."""
    return -error * (sound * near + (1.0 - sound) * far), -0.5 * sound * (1.0 - near * error * error) * precision


@register_jitable
def slopes_below(error: float, variance: float) -> tuple[float, float]:
    """`slopes` of `log_below`."""
    slope, sound_slope, _, _ = below_parts(error, sqrt(variance))
    return slope, -0.5 * sound_slope * error / variance


@register_jitable
def bends(error: float, precision: float, sound: float, near: float, far: float) -> tuple[float, float]:
    """Derivatives of minus the first of `slopes`, the pull of a reading, by its error and by the variance of its noise."""
    square = error * error
    between = sound * (1.0 - sound) * error * (near - far)
    by_variance = -0.8 * sound * error * near * near - 0.5 * between * (1.0 - near * square) * precision
    by_error = sound * near * (1.0 - 0.4 * square * near) + (1.0 - sound) * far * (1.0 - 0.4 * square * far)
    return by_error - between * error * (near - far), by_variance


@register_jitable
def bends_below(error: float, variance: float) -> tuple[float, float]:
    """`bends` of `log_below`."""
    slope, sound_slope, bend, sound_bend = below_parts(error, sqrt(variance))
    return bend, -0.5 * (sound_bend * error - sound_slope) / variance - 0.5 * slope * sound_slope * error / variance


@register_jitable
def sound_slopes(error: float, precision: float, sound: float, near: float, far: float) -> tuple[float, float]:
    """Derivatives of the log of the chance that a reading above the gauge's least is sound, by its error and its variance."""
    return -(1.0 - sound) * error * (near - far), -0.5 * (1.0 - sound) * (1.0 - near * error * error) * precision
