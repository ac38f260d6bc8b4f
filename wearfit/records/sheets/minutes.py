"""Cycle times that were typed in minutes into a column of seconds."""

from collections import Counter
from dataclasses import replace
from statistics import median
from typing import Final

from wearfit.records.cells import number_text
from wearfit.records.cycles import FASTEST_S, MINUTE_S
from wearfit.records.findings import Finding
from wearfit.records.sheets.columns import as_text
from wearfit.records.sheets.conversions import Conversion
from wearfit.records.sheets.headers import Match
from wearfit.records.sheets.region import Region

SLOWEST_MIN: Final = 5.0  # [min] a column that reaches no higher can be minutes throughout; judgement


def read_minutes(region: Region, match: Match) -> tuple[Region, tuple[Finding, ...]]:
    """Read a column of cycle times as minutes where it can be nothing else.

    Parameters
    ----------
    region : Region
    match : Match
        Its header.

    Returns
    -------
    Region
        With the conversion, where no cycle time reaches SLOWEST_MIN and half of them or more lie below FASTEST_S.
    tuple of Finding

    Notes
    -----
    Cycle times of which only a few are too short are judged against their tools' others, in `rules.cycle_times`.
    """
    at = next((at for at, column in region.known.items() if column.name == "cycle_time_s"), None)
    if at is None or "cycle_time_s" in region.conversions:
        return region, ()
    cells = region.grid.cells
    typed = Counter(cells[row][at] for row in region.body if at < len(cells[row]))
    times = {time: rows for cell, rows in typed.items() if (time := _number(as_text(cell))) is not None and time > 0}
    if not times or max(times) >= SLOWEST_MIN or median(Counter(times).elements()) >= FASTEST_S:
        return region, ()
    low, high = min(times), max(times)
    span = number_text(low) if low == high else f"{number_text(low)} to {number_text(high)}"
    problem = (
        f"'{match.label(at)}' holds {span}, and no mould makes a shot in so few seconds; the cycle times are read as minutes, and "
        f"multiplied by {number_text(MINUTE_S)}."
    )
    repair = "Write them in seconds, or the unit into the header, such as 'Cycle time (min)'."
    finding = Finding(region.table.name, None, "cycle_time_s", span, problem, repair, "repaired", region.grid.source)
    return replace(region, conversions={**region.conversions, "cycle_time_s": Conversion("min", MINUTE_S)}), (finding,)


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None
