"""Air that cannot have been: other units, exchanged columns, values never measured, months that are all the same."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding, Severity
from wearfit.records.frames import Frames, numbered
from wearfit.records.rules.marking import Judged, counted, mark, source_of, with_table
from wearfit.records.same_again import same_again

# Extremes of the air at the ground, in degrees Celsius: Vostok, July 1983, and Death Valley, July 1913, from the WMO's archive of
# extremes, from memory; a hall is no hotter. Monthly means: Vostok, August 1987, -75.4, and Death Valley, July 2018, 42.3, from memory.
HOURLY_RANGE_C: Final = (-90.0, 57.0)
MONTHLY_RANGE_C: Final = (-76.0, 45.0)
KELVIN_FROM: Final = 200.0  # no temperature in degrees Celsius or Fahrenheit is as high
ZERO_C_IN_K: Final = 273.15
FAHRENHEIT_TO: Final = 135.0  # Death Valley's record in degrees Fahrenheit
FAHRENHEIT_SHARE: Final = 0.2  # share of a plant's values too hot for Celsius; two summer months in ten even where winters are hard
FAHRENHEIT_ROWS: Final = 2
SAME_MONTH_APART: Final = 25.0  # months of one name that lie further apart than this are in two units; judgement
DRY_PCT: Final = 45.0  # a place whose every humidity is lower is a desert, or its columns are exchanged; judgement
NOISE_PCT: Final = 102.0  # sensors of saturated air show up to this; common practice
STILL_MONTHS: Final = 4  # from this many equal months on, a year's course is missing


def judge_climate(frames: Frames) -> Judged:
    """Bring the air of each plant to degrees Celsius and percent; set aside what has never been measured."""
    if frames["climate"].empty:
        return dict(frames), []
    climate, findings = _judged("climate", frames["climate"])
    return with_table(frames, "climate", climate), list(findings)


@same_again
def _judged(name: str, climate: pd.DataFrame) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """The table of that name as it is used, and what is said of it."""
    del name
    findings: list[Finding] = []
    temp, rh = climate["temp_c"].to_numpy(copy=True), climate["rh_pct"].to_numpy(copy=True)
    hourly = climate["timestamp"].notna()
    place = climate["place"].replace("", "outdoor")
    series = climate.groupby([climate["plant_id"], place, hourly]).ngroup().to_numpy()
    for number in range(int(series.max()) + 1):
        rows = np.flatnonzero(series == number)
        air = climate.iloc[rows]
        by_hour = bool(hourly.iloc[rows[0]])
        named = f"{air['plant_id'].iloc[0]}{' (hall)' if place.iloc[rows[0]] == 'hall' else ''}"
        temp[rows], said = _in_celsius(air, named, _range(by_hour))
        findings += said
        rh[rows], said = _in_percent(air, named)
        findings += said
        findings += _doubtful(air, named, by_hour)
    climate = climate.assign(temp_c=temp, rh_pct=rh)
    climate, said = _set_aside(climate, hourly)
    return numbered(climate), (*findings, *said)


def _range(hourly: bool) -> tuple[float, float]:
    return HOURLY_RANGE_C if hourly else MONTHLY_RANGE_C


def _said(air: pd.DataFrame, plant: str, column: str, problem: str, repair: str, severity: Severity) -> Finding:
    return Finding("climate", None, column, plant, problem, repair, severity, source_of(air.iloc[0].to_dict()))


def _in_celsius(air: pd.DataFrame, plant: str, limits: tuple[float, float]) -> tuple["np.ndarray", list[Finding]]:
    """Temperatures of one plant, shape (row,), brought to degrees Celsius where they can only be in another unit."""
    temp = air["temp_c"].to_numpy()
    if temp.min() >= KELVIN_FROM:
        unit, read = "kelvin", temp - ZERO_C_IN_K
    elif _is_fahrenheit(air, limits):
        unit, read = "degrees Fahrenheit", (temp - 32.0) / 1.8
    else:
        return temp, []
    problem = (
        f"The {counted(len(temp), 'temperature')} of {plant} from {temp.min():g} to {temp.max():g} can only be {unit}; they are read as "
        f"{read.min():.1f} to {read.max():.1f} degrees Celsius."
    )
    return np.round(read, 3), [_said(air, plant, "temp_c", problem, "Write them in degrees Celsius.", "repaired")]


def _is_fahrenheit(air: pd.DataFrame, limits: tuple[float, float]) -> bool:
    """Whether several values are too hot for Celsius, none for Fahrenheit, and all seem to be in one unit."""
    temp = air["temp_c"]
    hot = temp > limits[1]
    if hot.sum() < min(FAHRENHEIT_ROWS, len(temp)) or hot.mean() < FAHRENHEIT_SHARE or temp.max() > FAHRENHEIT_TO:
        return False
    if (temp.min() - 32.0) / 1.8 < limits[0] or _exchanged(air):
        return False
    if air["timestamp"].notna().any():
        return True
    by_month = temp.groupby(air["month"].dt.month)
    return bool((by_month.max() - by_month.min() <= SAME_MONTH_APART).all())


def _exchanged(air: pd.DataFrame) -> bool:
    """Whether temp_c looks like humidity and rh_pct like temperature."""
    temp, rh = air["temp_c"], air["rh_pct"]
    return bool(temp.between(0.0, 100.0).all() and rh.max() <= DRY_PCT and (temp > DRY_PCT).mean() > 0.5 and rh.max() > 1.0)


def _in_percent(air: pd.DataFrame, plant: str) -> tuple["np.ndarray", list[Finding]]:
    """Humidities of one plant, shape (row,): shares become percent, saturated air no more than 100."""
    rh = air["rh_pct"].to_numpy(copy=True)
    if 0.0 < rh.max() <= 1.0:
        problem = f"The {counted(len(rh), 'value')} of rh_pct at {plant}, none above {rh.max():g}, can only be shares; read as percent."
        return rh * 100.0, [_said(air, plant, "rh_pct", problem, "Write them in percent.", "repaired")]
    noisy = (rh > 100.0) & (rh <= NOISE_PCT)
    if not noisy.any():
        return rh, []
    rh[noisy] = 100.0
    count = counted(int(noisy.sum()), "value")
    problem = f"rh_pct at {plant} lies above 100 and up to {NOISE_PCT:g} in {count}, as sensors show of saturated air; read as 100."
    return rh, [_said(air[noisy], plant, "rh_pct", problem, "Nothing needs doing.", "repaired")]


def _doubtful(air: pd.DataFrame, plant: str, hourly: bool) -> list[Finding]:
    findings = []
    if _exchanged(air):
        problem = f"At {plant} temp_c looks like humidity and rh_pct like temperature; the two may be exchanged."
        findings.append(_said(air, plant, "temp_c", problem, "Exchange the two columns if so.", "note"))
    same = air["temp_c"].nunique() == 1 and air["rh_pct"].nunique() == 1
    if not hourly and same and air["month"].nunique() >= STILL_MONTHS:
        problem = f"All {len(air):,} months of {plant} have the same temperature and humidity, so its seasons are missing."
        repair = "Hand over each month's own means; a yearly mean hides the damp months."
        findings.append(_said(air, plant, "temp_c", problem, repair, "note"))
    return findings


def _set_aside(climate: pd.DataFrame, hourly: pd.Series) -> tuple[pd.DataFrame, list[Finding]]:
    temp, rh = climate["temp_c"], climate["rh_pct"]
    low, high = (np.where(hourly, HOURLY_RANGE_C[i], MONTHLY_RANGE_C[i]) for i in (0, 1))
    never = (temp < low) | (temp > high)
    wet = rh > 100.0
    what = np.where(hourly, "has ever been measured", "any month has ever had on average")
    rows = climate.assign(low=low, high=high, what=what)
    return climate[~(never | wet)], [
        *mark(
            "climate", rows[never], "temp_c", "{temp_c} degrees Celsius at {plant_id} lies outside {low} to {high}, beyond what {what}.",
            "Correct it; write degrees Celsius.", "set_aside",
        ),
        *mark("climate", rows[wet], "rh_pct", "A relative humidity of {rh_pct} % at {plant_id} cannot be.", "Correct it.", "set_aside"),
    ]  # fmt: skip
