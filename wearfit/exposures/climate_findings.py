"""What the climate records of each plant left open, said in plain notes."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearfit.exposures.corrosivity import VALID_RANGES
from wearfit.exposures.monthly_air import MIN_HOURS_PER_MONTH
from wearfit.exposures.plant_site import PlantSite
from wearfit.records.findings import Finding
from wearfit.records.rules.counter.runs import NOT_STATED


@dataclass(frozen=True, slots=True)
class ClimateGaps:
    """Gaps in the air recorded at each plant.

    Attributes
    ----------
    absent_months, outdoor_absent_months : int arrays, shape (plant,)
        Calendar months, 0 to 12, without air that tells sweating, and without outdoor air.
    thin_months : int array, shape (plant,)
        Months with too few hourly rows to count.
    annual_inputs : array, shape (4, plant)
        Inputs of the corrosivity, in the order of `VALID_RANGES`.
    clipped : bool array, shape (4, plant)
        Those outside the validity of the formula.
    """

    absent_months: NDArray[np.int64]
    outdoor_absent_months: NDArray[np.int64]
    thin_months: NDArray[np.int64]
    annual_inputs: NDArray[np.float64]
    clipped: NDArray[np.bool_]


def climate_findings(site: PlantSite, gaps: ClimateGaps) -> tuple[Finding, ...]:
    """Say what was missing or outside the validity of a formula, plant by plant.

    Parameters
    ----------
    site : PlantSite
    gaps : ClimateGaps

    Returns
    -------
    tuple of Finding
        Severity "note": the figures are used, with a wider uncertainty or a clipped input. Nothing is said of an input that
        the plant's figures do not use, nor of shots made at a plant not stated, whose climate nobody could record.
    """
    stated = [i for i, plant in enumerate(site.plant_ids) if plant != NOT_STATED]
    return tuple(note for i in stated for note in (*_air_notes(site, gaps, i), *_plant_notes(site, gaps, i)))


def _air_notes(site: PlantSite, gaps: ClimateGaps, i: int) -> Iterator[Finding]:
    plant, conditioned = site.plant_ids[i], site.conditioned[i]
    absent, outdoor_absent = int(gaps.absent_months[i]), int(gaps.outdoor_absent_months[i])
    if gaps.thin_months[i]:
        yield _note(
            "climate",
            None,
            "timestamp",
            plant,
            f"{gaps.thin_months[i]} month(s) of hourly air at {plant} hold fewer than {MIN_HOURS_PER_MONTH} hours and were left out.",
            "Add the missing hours, or the month's mean as a row with month.",
        )
    if absent == 12 and conditioned:
        yield _note(
            "climate",
            None,
            "place",
            plant,
            f"No hall air is recorded at {plant}; its hall is stated as conditioned and taken as dry.",
            "Add climate rows with place = hall to check it.",
        )
    elif absent == 12:
        yield _note(
            "climate",
            None,
            "plant_id",
            plant,
            f"No climate is recorded for {plant}; it is taken as a typical plant with a wide uncertainty.",
            f"Add twelve months of temp_c and rh_pct for {plant} to climate.",
        )
    elif absent:
        yield _note(
            "climate",
            None,
            "month",
            plant,
            f"{absent} of the 12 calendar months have no climate at {plant}; they are filled from their neighbours.",
            "Add the missing months.",
        )
    if not conditioned and outdoor_absent == 12 and absent < 12:
        yield _note(
            "climate",
            None,
            "place",
            plant,
            f"No outdoor air is recorded at {plant}; its corrosivity is taken as a typical plant's with a wide uncertainty.",
            "Add climate rows with place = outdoor.",
        )
    elif not conditioned and absent < outdoor_absent < 12:
        yield _note(
            "climate",
            None,
            "month",
            plant,
            f"{outdoor_absent} of the 12 calendar months have no outdoor air at {plant}; its corrosivity fills them from their neighbours.",
            "Add the missing months with place = outdoor.",
        )


def _plant_notes(site: PlantSite, gaps: ClimateGaps, i: int) -> Iterator[Finding]:
    plant = site.plant_ids[i]
    row = int(site.row[i]) if np.isfinite(site.row[i]) else None
    if gaps.absent_months[i] < 12 and not site.coolant_stated[i]:
        yield _note(
            "plants",
            row,
            "coolant_temp_c",
            None,
            f"The coolant temperature of {plant} is not stated; {site.coolant_c[i]:g} degC is assumed.",
            "Enter the temperature of the coolant supply.",
            site.source[i],
        )
    if site.conditioned[i] or gaps.outdoor_absent_months[i] == 12:
        return
    for column, stated, assumed in (
        ("so2_mg_m2_day", site.so2_stated[i], site.so2_mg_m2_day[i]),
        ("chloride_mg_m2_day", site.chloride_stated[i], site.chloride_mg_m2_day[i]),
    ):
        if not stated:
            yield _note(
                "plants",
                row,
                column,
                None,
                f"{column} of {plant} is not stated; {assumed:g} mg/(m2 d), a typical inland value, is assumed.",
                "Enter a measured or mapped deposition; near the sea chloride matters most.",
                site.source[i],
            )
    for valid, value, clipped in zip(VALID_RANGES, gaps.annual_inputs[:, i], gaps.clipped[:, i], strict=True):
        if clipped:
            of_site = valid.name.endswith("_mg_m2_day")
            yield _note(
                "plants" if of_site else "climate",
                row if of_site else None,
                valid.name,
                f"{value:g}",
                f"The annual {valid.name} of {plant} lies outside {valid.low:g} to {valid.high:g} {valid.unit}, where ISO 9223 holds; "
                "the nearer limit is used.",
                "Check the value; if it is right, read the corrosivity as a bound.",
                site.source[i] if of_site else "",
            )


def _note(table: str, row: int | None, column: str, value: str | None, problem: str, repair: str, source: str = "") -> Finding:
    return Finding(table, row, column, value, problem, repair, "note", source)
