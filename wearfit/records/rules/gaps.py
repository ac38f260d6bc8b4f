"""Use that is missing in the middle of a history: shots that a counter or an event tells of and no run, and years without a run."""

from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.counter.course import course_of
from wearfit.records.rules.counter.made import MadeBy
from wearfit.records.rules.counter.readings import day_texts, whole_days
from wearfit.records.rules.counter.reconcile import AGREES_WITHIN, agree, compare
from wearfit.records.rules.events import retirement_days
from wearfit.records.rules.marking import Judged, by_tool, grouped, mark
from wearfit.records.rules.openings import NEW_WITHIN_DAYS

Array = np.ndarray

DRY_SHARE: Final = AGREES_WITHIN - 1  # shots without a run, as a share of the usual rate, that set-ups and trials account for
IDLE_DAYS: Final = 2 * 365  # a tool that runs once a year is not idle; judgement
WHOLE_SHOT: Final = 0.5


def note_gaps(frames: Frames) -> Judged:
    """Note the days between which runs are missing, and how many shots.

    Parameters
    ----------
    frames : Frames
        After `reconcile_counters`.
    """
    return dict(frames), [*_by_counter(frames), *_by_shots_at(frames), *_idle_years(frames)]


def _by_counter(frames: Frames) -> list[Finding]:
    """Stretches over which a counter rises and there is no run at all."""
    counter = frames["counter"]
    if counter.empty:
        return []
    compared = compare(frames, course_of(frames))
    if not len(compared.later):
        return []
    counted, _ = compared.totals()
    days = compared.last - compared.first + 1
    usual = (counted / np.bincount(compared.segment, weights=days))[compared.segment]
    missing = (compared.by_runs < WHOLE_SHOT) & (compared.counted > DRY_SHARE * usual * days) & (compared.counted >= 1)
    at = np.flatnonzero(missing)
    if not len(at):
        return []
    begins = np.ones(len(at), dtype=bool)
    begins[1:] = (np.diff(at) != 1) | (np.diff(compared.segment[at]) != 0)
    stretch = np.cumsum(begins) - 1
    ends = np.flatnonzero(np.append(begins[1:], True))
    shots = np.bincount(stretch, weights=compared.counted[at])
    first, last = at[begins], at[ends]
    agreed = agree(compared.ratio)[compared.segment[last]]
    rows = counter.iloc[compared.later[last]].assign(since=day_texts(compared.first[first] - 1), shots=[grouped(x) for x in shots])
    said = "The counter of {tool_id} rises by {shots} shots between {since} and {date}, but no run of those days is recorded"
    repair = "Hand over the runs from between those days."
    return [
        *mark("counter", rows[~agreed], "counter_shots", said + ", so the tool looks younger than it is.", repair, "note"),
        *mark(
            "counter", rows[agreed], "counter_shots",
            said + ". The counter's total is used, so they count, but at the plants and in the resins of the other runs.", repair, "note",
        ),
    ]  # fmt: skip


def _by_shots_at(frames: Frames) -> list[Finding]:
    """Events whose count of shots the runs do not reach, or have passed."""
    tools, runs = frames["tools"], frames["runs"]
    events = frames["events"]
    events = events[events["shots_at"].notna()]
    if events.empty:
        return []
    counted = _counted_days(frames, events)
    at = pd.Series(np.arange(len(tools)), index=tools["tool_id"])
    tool, day = at.reindex(counted["tool_id"]).to_numpy(dtype=np.int64), whole_days(counted["date"].to_numpy())
    of_run, shots = at.reindex(runs["tool_id"]).to_numpy(dtype=np.int64), runs["shots"].to_numpy(dtype=float)
    start, end = whole_days(runs["started_on"].to_numpy()), whole_days(runs["ended_on"].to_numpy())
    # A run under way on the day may have made all of its shots by then, or none.
    most, least, shown = (MadeBy(of_run, *span, shots)(tool, day + 1) for span in ((start, start), (end, end), (start, end)))
    same = np.zeros(len(counted), dtype=bool)
    same[1:] = tool[1:] == tool[:-1]
    by_runs, by_count = np.diff(shown, prepend=0.0), np.diff(counted["shots_at"].to_numpy(dtype=float), prepend=0.0)
    at_most = most - np.append(0.0, least[:-1])
    counted = counted.assign(
        since=day_texts(np.roll(day, 1)),
        was=[grouped(x) for x in counted["shots_at"].shift(1, fill_value=0.0)], shown=[grouped(x) for x in counted["shots_at"]],
        by_count=[grouped(x) for x in by_count], by_runs=[grouped(x) for x in by_runs], lacking=[grouped(x) for x in by_count - by_runs],
        so_far=[grouped(x) for x in shown],
    )  # fmt: skip
    is_event = (counted["event"] != "").to_numpy()
    falls = same & (by_count < 0) & is_event
    lacks = same & is_event & (by_count > AGREES_WITHIN * at_most) & (by_count - at_most >= 1)
    passed = is_event & ~falls & (counted["shots_at"].to_numpy(dtype=float) * AGREES_WITHIN < least) & (least >= 1)
    return [
        *mark(
            "events", counted[lacks], "shots_at",
            "Between {since} and the {event} of {tool_id} on {date} its shots rose by {by_count}, but the runs of those days show "
            "{by_runs}: runs of {lacking} shots are missing, so the tool looks younger than it is.",
            "Hand over the runs from between those days, or correct shots_at.", "note",
        ),
        *mark(
            "events", counted[falls], "shots_at",
            "shots_at {shown} of the {event} of {tool_id} on {date} is less than the {was} of {since}; shots since "
            "commissioning never fall.",
            "Correct one of the two; a count since the last renewal does not belong here.", "note",
        ),
        *mark(
            "events", counted[passed], "shots_at",
            "shots_at {shown} of the {event} of {tool_id} on {date} is less than the {so_far} shots that its runs show by then.",
            "Correct shots_at or the runs; shots_at counts from commissioning, not from the last renewal.", "note",
        ),
    ]  # fmt: skip


def _counted_days(frames: Frames, events: pd.DataFrame) -> pd.DataFrame:
    """Events with a count in order of tool and day, each tool's start before them where its opening is known."""
    tools = frames["tools"]
    tools = tools[tools["tool_id"].isin(events["tool_id"])]
    first_run = by_tool(frames["runs"].groupby("tool_id")["started_on"].min(), tools)
    new = tools["opening_shots"].isna() & ((first_run - tools["commissioned_on"]).dt.days <= NEW_WITHIN_DAYS)
    known = (new | tools["opening_shots"].notna()) & first_run.notna()
    starts = pd.DataFrame({
        "tool_id": tools["tool_id"], "date": first_run - pd.Timedelta(days=1), "event": "", "shots_at": tools["opening_shots"].fillna(0.0),
    })[known]  # fmt: skip
    both = pd.concat([starts, events], ignore_index=True) if len(starts) else events
    return both.sort_values(["tool_id", "date", "shots_at"], kind="stable", ignore_index=True)


def _idle_years(frames: Frames) -> list[Finding]:
    """Tools without a run for years that nobody has stored or retired."""
    runs = frames["runs"]
    if runs.empty:
        return []
    tool, latest = pd.factorize(runs["tool_id"])[0], _latest_day(frames)
    start, end = runs["started_on"].to_numpy(), runs["ended_on"].to_numpy()
    order = np.lexsort((start, tool))
    tool, start = tool[order], start[order]
    last_day = pd.Series(end[order]).groupby(tool).cummax().to_numpy()
    back = np.append(tool[1:] == tool[:-1], False)
    next_day = np.where(back, np.roll(start, -1), latest.to_numpy().astype(start.dtype))
    long = (next_day - last_day) > np.timedelta64(IDLE_DAYS, "D")
    if not long.any():
        return []
    idle = runs.iloc[order[long]].assign(last_day=last_day[long], next_day=next_day[long], back=back[long])
    idle = idle[idle["back"] | by_tool(retirement_days(frames["events"]), idle).isna()]
    length = (idle["next_day"] - idle["last_day"]).dt.days.to_numpy()
    idle = idle[length - _explained_days(frames, idle) > IDLE_DAYS]
    told = idle.assign(since=day_texts(idle["last_day"].to_numpy()), until=day_texts(idle["next_day"].to_numpy()))
    return [
        *mark(
            "runs", told[told["back"]], "ended_on",
            "Tool {tool_id} has no run between {since} and {until}, and no event says that it was stored.",
            "Hand over the runs from between those days, or add the store and take_out to the events table.", "note",
        ),
        *mark(
            "runs", told[~told["back"]], "ended_on",
            "Tool {tool_id} has no run after {since}, though the records go on to {until}, and no event says that it was "
            "stored or retired.",
            "Hand over its later runs, or add the store or retire to the events table.", "note",
        ),
    ]  # fmt: skip


def _latest_day(frames: Frames) -> pd.Timestamp:
    days = [frames["runs"]["ended_on"].max(), frames["events"]["date"].max(), frames["counter"]["date"].max()]
    return max(day for day in days if not pd.isna(day))


def _explained_days(frames: Frames, gaps: pd.DataFrame) -> Array:
    """Days of each gap on which the tool is known to have been in store, or its counter not to have moved, shape (gap,)."""
    events, counter = frames["events"], frames["counter"]
    stays = events[events["event"].isin(["store", "take_out"])]
    # Taken out and stored again on one day: in store that night.
    stays = stays.assign(stored=stays["event"] == "store").sort_values(["tool_id", "date", "stored"], kind="stable")
    still = counter.assign(stored=counter["counter_shots"] == counter["counter_shots"].shift(-1))
    explained = np.zeros(len(gaps))
    for rows, goes_on in ((stays, True), (still, False)):
        explained = np.maximum(explained, _days_inside(frames, rows, goes_on, gaps))
    return explained


def _days_inside(frames: Frames, rows: pd.DataFrame, goes_on: bool, gaps: pd.DataFrame) -> Array:
    """Days of each gap between a row that is `stored` and the tool's next row, or after its last one where that `goes_on`."""
    at = pd.Series(np.arange(len(frames["tools"])), index=frames["tools"]["tool_id"])
    last = (rows["tool_id"] != rows["tool_id"].shift(-1)).to_numpy()
    until = rows["date"].shift(-1).where(~last, gaps["next_day"].max())
    inside = rows["stored"].to_numpy() & (goes_on | ~last) & (until > rows["date"]).to_numpy()
    rows, until = rows[inside], until[inside]
    start, end = whole_days(rows["date"].to_numpy()), whole_days(until.to_numpy()) - 1
    days = MadeBy(at.reindex(rows["tool_id"]).to_numpy(dtype=np.int64), start, end, end - start + 1.0)
    of_gap = at.reindex(gaps["tool_id"]).to_numpy(dtype=np.int64)
    return days.between(of_gap, whole_days(gaps["last_day"].to_numpy()), whole_days(gaps["next_day"].to_numpy()) - 1)
