"""Runs reckoned from a counter, for tools whose runs nobody wrote down."""

from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding, listed
from wearfit.records.frames import Frames, canonical_order
from wearfit.records.rules.counter.course import Course
from wearfit.records.rules.counter.places import LONGEST_DAYS, Pieces, Stretches, cut_by_place
from wearfit.records.rules.counter.readings import day_texts
from wearfit.records.rules.marking import Judged, counted, grouped, mark, with_table
from wearfit.records.tables import TABLES

Array = np.ndarray

NOT_STATED: Final = "not stated"  # resin of a reckoned run, and its plant where nobody says it
_NAMED: Final = 3  # tools named in a sentence about several


def reckon_runs(frames: Frames, course: Course) -> Judged:
    """Add the runs that the counter tells of, for each tool that has no run.

    Parameters
    ----------
    frames : Frames
        The counter as `course` followed it.
    course : Course

    Returns
    -------
    Judged
        One run for each two readings with shots between them: from the day after the earlier reading to the day of the
        later one, whose row and source it bears; in pieces where the tool was moved, stored, or read more than a year
        apart. Set-ups are left blank, so that how often a counter was read plays no part. What was made where nobody says is
        kept under a plant of its own, NOT_STATED.
    """
    counter, tools = frames["counter"], frames["tools"]
    at_tool = pd.Series(np.arange(len(tools)), index=tools["tool_id"]).reindex(counter["tool_id"]).to_numpy()
    alone = ~counter["tool_id"].isin(frames["runs"]["tool_id"]).to_numpy()
    later = course.steps
    later = later[alone[later] & (course.made[later] > 0)]
    day = course.readings.day
    stretches = Stretches(at_tool[later], np.minimum(day[later - 1] + 1, day[later]), day[later], course.made[later])
    pieces = cut_by_place(frames, stretches)
    owner = later[pieces.stretch]
    unplaced = _about_places(frames, pieces, at_tool[owner])
    pieces = replace(pieces, plant=np.where(pieces.plant == "", NOT_STATED, pieces.plant))
    # In canonical order: no two pieces share tool, plant and first day.
    plant = pd.factorize(pieces.plant, sort=True)[0]
    at = np.lexsort((pieces.start, plant, course.readings.tool[owner]))
    runs = _runs(frames, pieces, owner, at)

    findings = [*_about_readings(frames, course, later, stretches, pieces), *unplaced]
    unused = alone & ~np.isin(at_tool, stretches.tool)
    findings += mark(
        "tools", tools[np.isin(np.arange(len(tools)), at_tool[unused])], "tool_id",
        "Tool {tool_id} has no runs, and its counter readings show no shot between two of them, so nothing is known of its use.",
        "Hand over more readings, or its runs.", "note",
    )  # fmt: skip
    findings += _about_table(runs)
    return with_table(frames, "runs", _joined(frames["runs"], runs)), findings


def _runs(frames: Frames, pieces: Pieces, owner: Array, at: Array) -> pd.DataFrame:
    """The pieces at the positions given as rows of the runs table."""
    counter, like = frames["counter"].iloc[owner[at]], frames["runs"]
    columns = {
        "tool_id": counter["tool_id"].to_numpy(),
        "plant_id": pieces.plant[at],
        "resin_id": np.full(len(at), NOT_STATED, dtype=object),
        "started_on": pieces.start[at].astype("datetime64[D]").astype("datetime64[s]"),
        "ended_on": pieces.end[at].astype("datetime64[D]").astype("datetime64[s]"),
        "shots": pieces.shots[at],
    }
    for name in like.columns:
        if name not in columns:
            columns[name] = counter[name].to_numpy() if name in counter.columns else np.full(len(counter), np.nan)
    return pd.DataFrame({name: pd.Series(columns[name], dtype=like[name].dtype) for name in like.columns})


def _joined(runs: pd.DataFrame, reckoned: pd.DataFrame) -> pd.DataFrame:
    if reckoned.empty:
        return runs
    if runs.empty:
        return reckoned
    return canonical_order(TABLES["runs"], pd.concat([runs, reckoned], ignore_index=True))


def _about_readings(frames: Frames, course: Course, later: Array, stretches: Stretches, pieces: Pieces) -> list[Finding]:
    counter = frames["counter"]
    apart = later[stretches.end - stretches.start >= LONGEST_DAYS]
    in_store = np.unique(later[pieces.stretch[pieces.stored]])
    return [
        *mark(
            "counter", _between(counter, course, apart), "date",
            "The readings of {tool_id} on {was_on} and {date} lie more than a year apart; the {made} shots between them are spread evenly "
            "over all days.", "Hand over readings from in between, or the runs.", "note",
        ),
        *mark(
            "counter", _between(counter, course, in_store), "date",
            "The counter of {tool_id} rises by {made} shots between {was_on} and {date}, although the tool was in store all that time; the "
            "shots are counted.", "Correct the store or take_out in the events table, or the reading.", "note",
        ),
    ]  # fmt: skip


def _between(counter: pd.DataFrame, course: Course, later: Array) -> pd.DataFrame:
    was_on = day_texts(course.readings.day[later - 1])
    return counter.iloc[later].assign(was_on=was_on, made=[grouped(shots) for shots in course.made[later]])


def _about_places(frames: Frames, pieces: Pieces, tool: Array) -> list[Finding]:
    """One note on the shots made at no one knows which plant; `tool` is the position of each piece's tool."""
    at = pieces.plant == ""
    if not at.any():
        return []
    names = frames["tools"]["tool_id"].iloc[np.unique(tool[at])].tolist()
    more = [counted(len(names) - _NAMED, "other")] if len(names) > _NAMED else []
    problem = (
        f"Where {listed([*names[:_NAMED], *more])} made {grouped(pieces.shots[at].sum())} of the shots that only the counter tells of is "
        f"not known; they are kept under the plant '{NOT_STATED}', of whose air and care nothing is known, which widens the answer."
    )
    repair = "Fill in plant_id in the tools table, and in every move in the events table."
    return [Finding("tools", None, "plant_id", None, problem, repair, "note")]


def _about_table(runs: pd.DataFrame) -> list[Finding]:
    """One note on each thing that the counter does not tell."""
    if runs.empty:
        return []
    tools = runs["tool_id"].nunique()
    who = "One tool has" if tools == 1 else f"{tools:,} tools have"
    return [
        Finding(
            "counter", None, "counter_shots", None,
            f"{who} counter readings and no runs: the shots between two readings are used as a run spread evenly over the days between "
            "them. Set-ups are not known; one is taken where the counter moves again after standing still.",
            "Hand over the runs, if there is a list of them.", "note",
        ),
        Finding(
            "counter", None, "tool_id", None,
            f"The resin of the shots that only the counter tells of is not known; they are kept under the resin '{NOT_STATED}', "
            "which widens the answer.",
            "Hand over the runs with their resins.", "note",
        ),
        Finding(
            "counter", None, "date", None,
            "Where only the counter tells of the use, its first reading is where the records begin: a counter has a zero of its own, so "
            "what it showed then is not taken for the tool's age. Shots before it are known where opening_shots says so, or where the "
            "tool was commissioned at most 60 days before.",
            "Fill in opening_shots and opening_life_shots in the tools table.", "note",
        ),
    ]  # fmt: skip
