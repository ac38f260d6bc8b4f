"""The laws of `law.FORMS` at one level, for compiled code; NumPy's forms cannot be called there."""

from math import erfc, exp, expm1, log, log1p, sqrt
from typing import Final

from numba.extending import register_jitable

from wearfit.law import LEVEL_OF_MEDIAN, LOG_LOGISTIC, LOG_PEAK, LOGISTIC, NORMAL, WEIBULL

ROOT_HALF: Final = sqrt(0.5)
LOG_LOGISTIC_SLOPE: Final = log(LOGISTIC)
LOG_NORMAL_SLOPE: Final = log(NORMAL)
FAR: Final = 25.0  # of a normal score: beyond it the tail is summed, before `erfc` dies away
MOST: Final = 700.0  # an exponent that is still a number


@register_jitable
def log_upper(score: float) -> float:
    """Log of the normal probability above a score."""
    if score < 0.0:
        return log1p(-0.5 * erfc(-score * ROOT_HALF))
    if score < FAR:
        return log(0.5 * erfc(score * ROOT_HALF))
    square = 1.0 / (score * score)
    return LOG_PEAK - 0.5 * score * score - log(score) + log1p(square * (-1.0 + square * (3.0 - 15.0 * square)))


@register_jitable
def total_rise_slope(law: int, level: float) -> tuple[float, float, float]:
    """H, dH by the level, and the slope of the log of that by the level."""
    if law == WEIBULL:
        total = exp(min(level, MOST))
        return total, total, 1.0
    if law == LOG_LOGISTIC:
        odds = LOGISTIC * (level - LEVEL_OF_MEDIAN)
        small = exp(-abs(odds))
        of_sum = LOGISTIC / (1.0 + small)
        if odds > 0.0:
            return odds + log1p(small), of_sum, of_sum * small
        return log1p(small), of_sum * small, of_sum
    score = NORMAL * (level - LEVEL_OF_MEDIAN)
    total = -log_upper(score)
    rise = exp(LOG_NORMAL_SLOPE + LOG_PEAK - 0.5 * score * score + total)
    return total, rise, rise - NORMAL * score


@register_jitable
def log_rise_and_slope(law: int, level: float) -> tuple[float, float]:
    """log of dH by the level, and its slope by the level."""
    if law == WEIBULL:
        return level, 1.0
    if law == LOG_LOGISTIC:
        odds = LOGISTIC * (level - LEVEL_OF_MEDIAN)
        small = exp(-abs(odds))
        above = (small if odds > 0.0 else 1.0) / (1.0 + small)
        return LOG_LOGISTIC_SLOPE - max(-odds, 0.0) - log1p(small), LOGISTIC * above
    score = NORMAL * (level - LEVEL_OF_MEDIAN)
    log_rise = LOG_NORMAL_SLOPE + LOG_PEAK - 0.5 * score * score - log_upper(score)
    return log_rise, exp(log_rise) - NORMAL * score


@register_jitable
def bend(law: int, rise: float, slope: float) -> float:
    """Minus the second derivative of log of dH by the level, >= 0; `rise` and `slope` as given by the others."""
    if law == WEIBULL:
        return 0.0
    if law == LOG_LOGISTIC:
        return slope * (LOGISTIC - slope)
    return NORMAL * NORMAL - rise * slope


@register_jitable
def missed_and_through(rise: float) -> tuple[float, float]:
    """1 - exp(-rise) and exp(-rise), both accurate."""
    missed = -expm1(-rise)
    return missed, 1.0 - missed if rise < 1.0 else exp(-rise)
