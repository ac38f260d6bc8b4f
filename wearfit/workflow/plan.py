"""The plan from the current calibration of a store, with the calibration's own plan or one in a file."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.decisions.inputs import Values, fill
from wearfit.decisions.plan import plan_of
from wearfit.decisions.plan_answer import answer_of
from wearfit.decisions.plan_terms import INPUTS, Refurbish, policy_named
from wearfit.errors import Refusal
from wearfit.forecasts.fleet_ahead import fleet_ahead
from wearfit.forecasts.outlook import read_outlook
from wearfit.forecasts.plan_given import Makes, PlanRow, with_plan
from wearfit.forecasts.since import heed
from wearfit.records.choices import Choices
from wearfit.records.identity import Row
from wearfit.store.store import Store
from wearfit.workflow.answers import Current, read_current, with_news
from wearfit.workflow.known_names import known_name
from wearfit.workflow.plan_file import FileRow, read_plan
from wearfit.workflow.settings import TOLERANCE
from wearfit.workflow.tool_numbers import numbers_of_tools
from wearfit.workflow.wording import readings_since

USUAL_MONTHS: Final = 36  # looked at where nothing is planned
MOST_MONTHS: Final = 240


def plan(
    store_url: str,
    file: Path | None = None,
    months: int | None = None,
    refurbish: str = "when",
    tolerance: float | None = None,
    given: Mapping[str, float] | None = None,
) -> tuple[dict[str, Any], bool]:
    """Renewals, spend, shortages, orders and copies over a plan.

    Parameters
    ----------
    file : Path, optional
        A plan in the place of the calibration's own.
    months : int, optional
        How many to look at; as far as the plan reaches unless given.
    refurbish : str
        One of `plan_terms.POLICIES`.
    given : mapping of str to float, optional
        Inputs that the user sets.

    Returns
    -------
    dict, bool
        The answer, and whether some row of the file could be used.

    Raises
    ------
    Refusal
        As `read_current` and `read_plan`; where an input is impossible or nothing can be told of any tool.
    """
    _checked(months, refurbish, given or {})  # wrong use is told before anything is opened
    asked = None if file is None else read_plan(file)
    with Store.open(store_url, must_exist=True) as store:
        current, recorded = read_current(store, None), read_makes(store)
        current = with_news(store, current, recorded.choices)
        terms = PlanTerms(months, refurbish, TOLERANCE.chosen(tolerance, store), tuple((given or {}).items()))
    return plan_of_current(current, recorded, terms, asked)


@dataclass(frozen=True)
class RecordedMakes:
    """What the store's records say of making things: rows of the tools and of the bill, and what the user decided about names."""

    rows: Sequence[Row]
    choices: Choices


def read_makes(store: Store) -> RecordedMakes:
    """As they stand in the store now."""
    return RecordedMakes(store.rows(("tools", "bill")), store.choices())


@dataclass(frozen=True)
class PlanTerms:
    """What a plan is told.

    Parameters
    ----------
    months : int or None
        How many to look at; as far as the plan reaches unless given.
    refurbish : str
        One of `plan_terms.POLICIES`.
    accepted : float
        Chance of no usable tool before a replacement arrives, and of a short month; in (0, 1).
    given : tuple of (str, float)
        Of `plan_terms.INPUTS` those that the user sets.
    """

    months: int | None
    refurbish: str
    accepted: float
    given: tuple[tuple[str, float], ...] = ()


def plan_of_current(
    current: Current, recorded: RecordedMakes, terms: PlanTerms, asked: Sequence[FileRow] | None = None
) -> tuple[dict[str, Any], bool]:
    """The same from a calibration at hand, with the calibration's own plan where no rows are asked."""
    months = terms.months
    policy, values = _checked(months, terms.refurbish, dict(terms.given))
    choices, rows = recorded.choices, recorded.rows
    calibration, problems = current.calibration, [{"row": r.number, "problem": r.problem} for r in asked or () if r.row is None]
    if asked is not None:
        calibration, refused = _planned(calibration, asked, choices, _makes(rows, calibration, choices))
        problems = sorted([*problems, *refused], key=lambda problem: int(str(problem["row"])))
    calibration, since = heed(calibration, read_outlook(calibration), np.arange(len(calibration.live.tool)), current.news, current.as_of)
    ahead = fleet_ahead(calibration, months or months_planned(calibration), _cycles(rows, calibration, choices), since)
    if not ahead.tool_id:
        raise Refusal("There is no live tool whose age is known.", "Enter the tools' runs or openings and recalibrate.")
    answer = answer_of(plan_of(ahead, values, policy, terms.accepted), values, policy, terms.accepted)
    counted = {"readings_since": sum(of_tool.readings for of_tool in since.values()), "readings_note": None}
    notes = [*readings_since(counted), *answer["notes"]]
    document = {**answer, "notes": notes, "readings_since": counted["readings_since"], "problems": problems}
    return current.document(document), asked is None or len(problems) < len(asked)


def _checked(months: int | None, refurbish: str, given: Mapping[str, float]) -> tuple[Refurbish, Values]:
    """How worn surfaces are renewed, and the inputs; refuses what cannot be."""
    policy, values = policy_named(refurbish), fill(INPUTS, {}, given)
    if months is not None and not 1 <= months <= MOST_MONTHS:
        raise Refusal(f"{months} months cannot be looked at.", f"Give a number from 1 to {MOST_MONTHS}.", 2)
    return policy, values


def _planned(
    calibration: Calibration, asked: Sequence[FileRow], choices: Choices, makes: Makes
) -> tuple[Calibration, list[dict[str, Any]]]:
    """The calibration with the file's plan, and the rows that could not be used."""
    read = [(r.number, _named(r.row, calibration, choices)) for r in asked if r.row is not None]
    planned, refused = with_plan(calibration, [row for _, row in read], makes)
    return planned, [{"row": number, "problem": problem} for (number, _), problem in zip(read, refused, strict=True) if problem]


def _named(row: PlanRow, calibration: Calibration, choices: Choices) -> PlanRow:
    """A row with the names that the calibration has."""
    levels, names = calibration.levels, choices.names

    def known(name: str, of: Iterable[str], column: str) -> str:
        return known_name(name, of, names.get(column, {})) if name else ""

    return replace(
        row,
        tool_id=known(row.tool_id, levels.tool, "tool_id"),
        design_id=known(row.design_id, levels.design, "design_id"),
        plant_id=known(row.plant_id, levels.plant, "plant_id"),
        resin_id=known(row.resin_id, levels.resin, "resin_id"),
    )


def _makes(rows: Sequence[Row], calibration: Calibration, choices: Choices) -> Makes:
    """Cavities and the bill, as they stand in the records now."""
    levels, names = calibration.levels, choices.names
    return Makes(
        cavities=numbers_of_tools(rows, "cavities", calibration, choices),
        parts={
            (row.values["product_id"], known_name(row.values["design_id"], levels.design, names.get("design_id", {}))): float(
                row.values["parts_per_unit"]
            )
            for row in rows
            if row.table == "bill" and {"product_id", "design_id", "parts_per_unit"} <= set(row.values)
        },
    )


def _cycles(rows: Sequence[Row], calibration: Calibration, choices: Choices) -> dict[str, float]:
    return numbers_of_tools(rows, "cycle_time_s", calibration, choices)


def months_planned(calibration: Calibration) -> int:
    """Months from the day after the as-of day to the last that is planned, USUAL_MONTHS where none is."""
    planned = np.flatnonzero(~np.isnan(calibration.live.plan_shots).all(axis=0))
    if not len(planned):
        return USUAL_MONTHS
    as_of = dt.date.fromisoformat(calibration.identity.as_of)
    ends_with_month = (as_of + dt.timedelta(days=1)).month != as_of.month
    return max(1, int(planned[-1]) + 1 - ends_with_month)
