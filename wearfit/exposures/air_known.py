"""How well the air of a plant is known by what is on record of it.

Judgement, no source, unless a line says otherwise. A standard deviation is that of the plant's level over the years; where several
reasons apply the largest holds, and calendar months never recorded add to it in quadrature, up to that of an unknown plant.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.exposures.conditioned import SWEATING_SD_CONDITIONED

Array = Any  # a NumPy array or a number

SWEATING_SD_HALL: Final = 0.03
"""Hall air recorded in every calendar month. [share of press hours]"""
SWEATING_SD_OUTDOOR: Final = 0.06
"""The outdoor dew point stands for the hall's."""
SWEATING_SD_COOLANT: Final = 0.15
"""Coolant not stated."""
SWEATING_SD_UNKNOWN: Final = 0.3
"""No climate recorded: covers a conditioned hall and the tropics."""

LOG_CORROSIVITY_SD_ISO: Final = 0.2
"""ISO 9223's own estimation uncertainty, -33 to +50 % (from memory), read as two standard deviations of a lognormal."""
LOG_CORROSIVITY_SD_DEPOSITS: Final = 0.5
"""Sulfur dioxide or chloride not stated."""
LOG_CORROSIVITY_SD_UNKNOWN: Final = 0.8
"""Twice this either way spans a dry inland plant to a tropical shore."""

CALENDAR_MONTHS: Final = 12
SAME: Final = 1e-9


@dataclass(frozen=True)
class AirRecord:
    """A record that would make the air of a plant better known.

    Parameters
    ----------
    name : str
        "coolant", "hall_air", "climate" or "deposits".
    sweating_sd, log_corrosivity_sd : float
        What would be left of the standard deviations with it.
    """

    name: str
    sweating_sd: float
    log_corrosivity_sd: float


def lacking_air(sweating_sd: float, log_corrosivity_sd: float) -> tuple[AirRecord, ...]:
    """Records whose lack makes a plant's air so unsure; none where its standard deviations come from elsewhere."""
    if sweating_sd == SWEATING_SD_CONDITIONED:
        return (AirRecord("hall_air", SWEATING_SD_HALL, log_corrosivity_sd),)
    base, absent = _reason(sweating_sd, (SWEATING_SD_OUTDOOR, SWEATING_SD_COOLANT, SWEATING_SD_HALL), SWEATING_SD_UNKNOWN)
    loss, unrecorded = _reason(log_corrosivity_sd, (LOG_CORROSIVITY_SD_ISO, LOG_CORROSIVITY_SD_DEPOSITS), LOG_CORROSIVITY_SD_UNKNOWN)
    found = []
    if absent or unrecorded:
        found.append(AirRecord("climate", base, loss))
    if base == SWEATING_SD_COOLANT:
        found.append(AirRecord("coolant", float(widened(SWEATING_SD_OUTDOOR, absent, SWEATING_SD_UNKNOWN)), log_corrosivity_sd))
    if base == SWEATING_SD_OUTDOOR and absent < CALENDAR_MONTHS:
        found.append(AirRecord("hall_air", SWEATING_SD_HALL, log_corrosivity_sd))
    if loss == LOG_CORROSIVITY_SD_DEPOSITS and unrecorded < CALENDAR_MONTHS:
        left = float(widened(LOG_CORROSIVITY_SD_ISO, unrecorded, LOG_CORROSIVITY_SD_UNKNOWN))
        found.append(AirRecord("deposits", sweating_sd, left))
    return tuple(found)


def widened(sd: Array, absent: Array, unknown_sd: float) -> Array:
    """Standard deviations with what calendar months never recorded leave open; with all twelve absent a plant is as good as unknown."""
    return np.minimum(np.hypot(sd, unknown_sd * absent / CALENDAR_MONTHS), unknown_sd)


def _reason(sd: float, bases: tuple[float, ...], unknown_sd: float) -> tuple[float, int]:
    """The base that a standard deviation was widened from, and by how many calendar months: no two pairs give the same."""
    if sd in bases:
        return sd, 0
    pairs = ((base, absent) for base in bases for absent in range(1, CALENDAR_MONTHS + 1))
    return next((pair for pair in pairs if abs(float(widened(*pair, unknown_sd)) - sd) < SAME), (sd, 0))
