"""Running totals typed as the shots of each run.

Where the numbers of a tool rise from each run to the next and never fall, they may be what its counter showed after each run.
Chance puts five runs in rising order once in 120, so the order alone says little. Three things tell. The press cannot have made
so many in the days of a run, while what the numbers rise by it can. What they rise by keeps the tool's pace, so many a day, while
the numbers themselves do not; of honest runs in rising order the contrary holds. And read as parts they are still too many.

Of 16,000 simulated honest tools with 5 to 12 runs none was changed and one noted; of as many whose parts were typed as shots, the
same. Of tools that kept a running total from their first run on, a third without a cycle time, 37 % were read so with 5 runs and
33 % noted; with 8 runs 69 % were read so and 26 % set aside. Of those whose total was old 88 % with 5 runs, 99 % with 8.
"""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import ROW, SOURCE, Frames
from wearfit.records.rules.counter.readings import DEFAULT_CYCLE_S
from wearfit.records.rules.marking import Judged, grouped, mark, of_tool, with_table
from wearfit.records.rules.openings import NEW_WITHIN_DAYS
from wearfit.records.rules.paces import CADENCE_SLACK, SECONDS_PER_DAY, cycle_times, days_of, open_cavities
from wearfit.records.rules.typed_counts import in_full, typed_counts

LEAST_RUNS: Final = 5  # of a tool in rising order; judgement
SURE_RUNS: Final = 8  # whose order is no chance (one in 40,320); with an even rise enough to set possible numbers aside; judgement
MOST: Final = 0.5  # share of a tool's runs that must be more than the press can make
STEPS_POSSIBLE: Final = 0.9  # share of the rises that must be possible; judgement
STEADIER: Final = 0.8  # the scatter of the rises' pace is at most so much of that of the numbers' own; judgement
GROWN: Final = 3.0  # last number over first, from which possible numbers are doubted; judgement


def read_running_totals(frames: Frames) -> Judged:
    """Read rising numbers that no press can make run by run as running totals; set aside or note those that only may be.

    Parameters
    ----------
    frames : Frames
        As typed: before counts are judged or reckoned.

    Returns
    -------
    Judged
        Of a tool read so each run has what the total rose by. The first keeps its number where the tool was new and can have made
        so many; else it is set aside, for nothing says how many of them are its own.
    """
    if frames["runs"]["tool_id"].value_counts().max() < LEAST_RUNS or (runs := _rising(frames)).empty:
        return dict(frames), []
    told = _evidence(runs)
    # Where there are counter readings, they will be set against the runs and tell.
    counted = told.index.isin(frames["counter"]["tool_id"])
    certain, sure = told["certain"], told["doubtful"] & (told["runs"] >= SURE_RUNS) & ~counted
    repaired, findings = _read(frames, runs[runs["tool_id"].isin(told.index[certain])])
    aside = runs[runs["tool_id"].isin(told.index[sure])]
    findings += _set_aside(aside)
    findings += [_may_be(rows) for _, rows in runs[runs["tool_id"].isin(told.index[told["doubtful"] & ~sure])].groupby("tool_id")]
    return with_table(frames, "runs", repaired.drop(index=aside.index)), findings


def _rising(frames: Frames) -> pd.DataFrame:
    """The runs of the tools whose numbers rise from each run to the next, in that order, with what the rule looks at."""
    counts = typed_counts(frames["runs"])
    counts = counts.iloc[np.lexsort((frames["runs"].loc[counts.index, ROW], counts["last"], counts["first"], counts["tool"]))]
    typed, tool = counts["typed"].to_numpy(), counts["tool"].to_numpy()
    step = np.diff(typed, prepend=np.nan)
    step[np.diff(tool, prepend=-1) != 0] = np.nan
    number, of_parts = np.bincount(tool), np.bincount(tool, weights=counts["of_parts"].to_numpy())
    falls = np.bincount(tool, weights=step <= 0) > 0
    rises = (number >= LEAST_RUNS) & ~falls & ((of_parts == 0) | (of_parts == number))
    if not rises.any():  # nearly always, and the rest looks at whole rows
        return counts[:0]
    runs = in_full(frames["runs"], counts.assign(step=step)[rises[tool]])
    cavities = open_cavities(frames, runs).fillna(1.0)
    by_press = days_of(runs) * SECONDS_PER_DAY / cycle_times(frames, runs).fillna(DEFAULT_CYCLE_S) * CADENCE_SLACK
    able = by_press.where(runs["under"] == "shots", by_press * cavities)
    opening = of_tool(frames, runs, "opening_shots").fillna(0.0)
    age = (runs["started_on"] - of_tool(frames, runs, "commissioned_on")).dt.days
    return runs.assign(able=able, able_as_parts=by_press * cavities, new=(opening == 0) & (age <= NEW_WITHIN_DAYS))


def _evidence(runs: pd.DataFrame) -> pd.DataFrame:
    """Of each tool whether its numbers are running totals, `certain`, or only may be, `doubtful`."""
    later = runs[runs["step"].notna()]
    days = days_of(later)
    later = later.assign(
        over=later["typed"] > later["able"], over_as_parts=later["typed"] > later["able_as_parts"], fits=later["step"] <= later["able"],
        pace=np.log(later["typed"] / days), rise=np.log(later["step"] / days),
    )  # fmt: skip
    told = later.groupby("tool_id").agg(
        over=("over", "mean"), over_as_parts=("over_as_parts", "mean"), fits=("fits", "mean"), pace=("pace", "std"), rise=("rise", "std")
    )  # fmt: skip
    whole = runs.groupby("tool_id")["typed"].agg(["size", "first", "last"])
    steady, possible = told["rise"] <= STEADIER * told["pace"], told["fits"] >= STEPS_POSSIBLE
    no_chance = (whole["size"] >= SURE_RUNS) | steady | (told["over_as_parts"] > MOST)
    certain = possible & (told["over"] > MOST) & no_chance
    doubtful = ~certain & possible & steady & (whole["last"] >= GROWN * whole["first"])
    return pd.DataFrame({"runs": whole["size"], "certain": certain, "doubtful": doubtful})


def _read(frames: Frames, runs: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """The runs table with the rises in place of the totals, and what is said of it."""
    table = frames["runs"]
    if runs.empty:
        return table, []
    first = runs[runs["step"].isna()]
    unknown = first[~(first["new"] & (first["typed"] <= first["able"]))]
    made = runs["step"].fillna(runs["typed"])
    changed = {
        name: table[name].where(~table.index.isin(made.index[runs["under"] == name]), made.reindex(table.index))
        for name in ("shots", "parts")
    }
    findings = [_said(rows, rows.index[0] in unknown.index) for _, rows in runs.groupby("tool_id")]
    findings += mark(
        "runs", unknown, str(unknown["under"].iloc[0]) if len(unknown) else "shots",
        "How many of these the run of {tool_id} from {started_on} to {ended_on} made is not known, for there is no total before it.",
        "Write the shots of this run alone, and those before it under opening_shots in the tools table.", "set_aside",
    )  # fmt: skip
    return table.assign(**changed).drop(index=unknown.index), findings


def _span(rows: pd.DataFrame) -> str:
    first, last = rows.iloc[0], rows.iloc[-1]
    return (
        f"The {first['under']} of tool {first['tool_id']} rise from each of its {len(rows):,} runs to the next, from "
        f"{grouped(first['typed'])} on {first['ended_on'].date()} to {grouped(last['typed'])} on {last['ended_on'].date()}"
    )


COUNTER_TABLE: Final = "counter table, with tool_id, date and counter_shots"


def _said(rows: pd.DataFrame, first_is_aside: bool) -> Finding:
    under, later = str(rows["under"].iloc[0]), rows.iloc[1:]
    over = int((later["typed"] > later["able"]).sum())
    left = "; the first run is left out" if first_is_aside else ""
    made = later["step"].sum() + (0.0 if first_is_aside else rows["typed"].iloc[0])
    problem = (
        f"{_span(rows)}, and {over:,} of them are more than the press can make in the days of the run. They are read as a running total: "
        f"each run has made what it rose by, {grouped(made)} in all{left}."
    )
    repair = f"Put these numbers into the {COUNTER_TABLE}, and into the runs what each of them made."
    return Finding("runs", None, under, str(rows["tool_id"].iloc[0]), problem, repair, "repaired", str(rows[SOURCE].iloc[0]))


def _set_aside(rows: pd.DataFrame) -> list[Finding]:
    findings = []
    for under, some in rows.groupby("under"):
        findings += mark(
            "runs", some.assign(made=[grouped(typed) for typed in some["typed"]]), str(under),
            f"The {under} of {{tool_id}} rise evenly from each of its runs to the next, as a running total does and runs do not; nothing "
            "tells whether the {made} of the run from {started_on} to {ended_on} are its own.",
            f"If they are a running total, put them into the {COUNTER_TABLE}. If each is its run's own, hand over two readings of the "
            "tool's counter as well, to bear that out.", "set_aside",
        )  # fmt: skip
    return findings


def _may_be(rows: pd.DataFrame) -> Finding:
    problem = f"{_span(rows)}, evenly, as a running total does; they are used as they stand, each as its run's own."
    repair = f"If they are a running total, put these numbers into the {COUNTER_TABLE}, and into the runs what each of them made."
    tool = str(rows["tool_id"].iloc[0])
    return Finding("runs", None, str(rows["under"].iloc[0]), tool, problem, repair, "note", str(rows[SOURCE].iloc[0]))
