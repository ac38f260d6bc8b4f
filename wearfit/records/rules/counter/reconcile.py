"""Counter and runs of one tool set against each other: the counter gives the total where the two agree, else the runs stand."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames, canonical_order
from wearfit.records.rules.counter.course import Course, course_of
from wearfit.records.rules.counter.made import MadeBy
from wearfit.records.rules.counter.readings import day_texts, whole_days
from wearfit.records.rules.marking import Judged, grouped, mark, with_table
from wearfit.records.tables import TABLES

Array = np.ndarray

AGREES_WITHIN: Final = 1.15  # counter over runs, or runs over counter
THOUSAND: Final = 1000.0
SAME: Final = 1e-6  # a ratio so near one is one
LEAST_IN_THOUSANDS: Final = 10  # thousands counted below which rounding to whole ones says too little; judgement


@dataclass(frozen=True)
class Compared:
    """Counter and runs over each stretch between two consecutive readings of one counter. All arrays have shape (step,)."""

    tool: Array  # position in the tools table
    later: Array  # position of the later reading in the counter table
    first: Array  # [day] the day after the earlier reading
    last: Array  # [day] that of the later one
    segment: Array  # counts the segments that have steps
    counted: Array
    by_runs: Array

    @property
    def ratio(self) -> Array:
        """Counter over runs in each segment, shape (segment,); 1 where both stood still, inf where there is no run."""
        counted, by_runs = self.totals()
        # Shots of runs that only touch the stretch by rounding are none.
        none = by_runs < 0.5
        ratio: Array = np.where(none, np.where(counted < 0.5, 1.0, np.inf), counted / np.where(none, 1.0, by_runs))
        return ratio

    def totals(self) -> tuple[Array, Array]:
        """Shots of each segment by the counter and by the runs, shape (segment,) each."""
        return np.bincount(self.segment, weights=self.counted), np.bincount(self.segment, weights=self.by_runs)


def agree(ratio: Array) -> Array:
    """Whether counter and runs agree, as their ratio says."""
    agreed: Array = (ratio <= AGREES_WITHIN) & (ratio >= 1 / AGREES_WITHIN)
    return agreed


def compare(frames: Frames, course: Course) -> Compared:
    """Set every step of every counter against the runs of its days.

    Notes
    -----
    A reading counts all of its day. Runs that reach beyond a stretch count by days.
    """
    at = _positions(frames)
    runs, later = frames["runs"], course.steps
    made = MadeBy(
        at.reindex(runs["tool_id"]).to_numpy(dtype=np.int64), whole_days(runs["started_on"].to_numpy()),
        whole_days(runs["ended_on"].to_numpy()), runs["shots"].to_numpy(dtype=float),
    )  # fmt: skip
    tool = at.reindex(frames["counter"]["tool_id"].iloc[later]).to_numpy(dtype=np.int64)
    day = course.readings.day
    last = day[later]
    first = np.minimum(day[later - 1] + 1, last)
    _, segment = np.unique(course.segment[later], return_inverse=True)
    return Compared(tool, later, first, last, segment, course.made[later], made.between(tool, first, last))


def reconcile_counters(frames: Frames) -> Judged:
    """Scale the runs of each tool to its counter's total where the two agree within AGREES_WITHIN; else say how they differ.

    Parameters
    ----------
    frames : Frames
        After `judge_counters`, the shots of every run filled in.

    Returns
    -------
    Judged
        Runs are scaled over the stretch between the first and the last reading of one counter; what a run made outside of
        it stays. Reckoned runs are their counter's already.

    Notes
    -----
    Agreement is counter over runs in [1/1.15, 1.15]. Over days that a run shares with two readings its shots are taken as
    spread evenly, so a run that crosses the first or the last reading adds to both sides.
    """
    if frames["counter"].empty or frames["runs"].empty:
        return dict(frames), []
    used, in_thousands = _read_thousands(frames)
    course = course_of(used)
    compared = compare(used, course)
    if not len(compared.later):
        return used, in_thousands
    ratio = compared.ratio
    agreed = agree(ratio)
    scaled = agreed & (np.abs(ratio - 1) > SAME)
    findings = [*in_thousands, *_scaled_note(compared, ratio, scaled), *_differences(used, compared, ratio, ~agreed)]
    return _scale(used, compared, np.where(scaled, ratio, 1.0)), findings


def _positions(frames: Frames) -> pd.Series:
    tools = frames["tools"]["tool_id"]
    return pd.Series(np.arange(len(tools)), index=tools)


def _scale(frames: Frames, compared: Compared, ratio: Array) -> dict[str, pd.DataFrame]:
    runs = frames["runs"]
    tool = _positions(frames).reindex(runs["tool_id"]).to_numpy(dtype=np.int64)
    start, end = whole_days(runs["started_on"].to_numpy()), whole_days(runs["ended_on"].to_numpy())
    extra = (ratio[compared.segment] - 1) * (compared.last - compared.first + 1)
    further = MadeBy(compared.tool, compared.first, compared.last, extra).between(tool, start, end) / (end - start + 1)
    touched = np.abs(further) > SAME / 10
    if not touched.any():
        return dict(frames)
    shots = np.where(touched, runs["shots"] * (1 + further), runs["shots"])
    return with_table(frames, "runs", canonical_order(TABLES["runs"], runs.assign(shots=shots)))


def _scaled_note(compared: Compared, ratio: Array, scaled: Array) -> list[Finding]:
    if not scaled.any():
        return []
    count = len(np.unique(compared.tool[scaled[compared.segment]]))
    who = "one tool" if count == 1 else f"{count:,} tools"
    low, high = ratio[scaled].min(), ratio[scaled].max()
    span = f"{low:.2f}" if f"{low:.2f}" == f"{high:.2f}" else f"{low:.2f} to {high:.2f}"
    problem = (
        f"Of {who} with runs and counter readings the counter shows {span} times the shots of the runs. They agree within 15 %, so the "
        "counter gives the total, dry shots included, and the runs say when and where: their shots are scaled to the counter's."
    )
    return [Finding("counter", None, "counter_shots", None, problem, "Nothing needs doing.", "note")]


def _differences(frames: Frames, compared: Compared, ratio: Array, differs: Array) -> list[Finding]:
    """One finding for each segment in which counter and runs tell different stories."""
    if not differs.any():
        return []
    counter = frames["counter"]
    counted, by_runs = compared.totals()
    gap = compared.counted - compared.by_runs
    order = np.lexsort((-np.abs(gap), compared.segment))
    first_step = np.searchsorted(compared.segment, np.arange(len(counted)), side="left")
    past_step = np.searchsorted(compared.segment, np.arange(len(counted)), side="right")
    since, until = day_texts(compared.first - 1), day_texts(compared.last)
    segments = np.flatnonzero(differs).tolist()
    at, said = [], []
    for s in segments:
        worst = order[first_step[s] : past_step[s]][:2]
        worst = worst[np.abs(gap[worst]) >= 0.1 * np.abs(gap[first_step[s] : past_step[s]]).sum()]
        places = [
            f"{since[i]} and {until[i]} ({grouped(compared.counted[i])} by the counter, {grouped(compared.by_runs[i])} by the runs)"
            for i in sorted(worst.tolist())
        ]
        at.append(compared.later[order[first_step[s]]])
        said.append({
            "since": since[first_step[s]], "until": until[past_step[s] - 1], "counted": grouped(counted[s]),
            "by_runs": grouped(by_runs[s]), "ratio": "" if np.isinf(ratio[s]) else f" ({ratio[s]:.2f} times as many)",
            "places": " and between ".join(places) or "many readings, a little each",
        })  # fmt: skip
    rows = counter.iloc[at].assign(**{name: [one[name] for one in said] for name in said[0]})
    return mark(
        "counter", rows, "counter_shots",
        "Between {since} and {until} the counter of {tool_id} shows {counted} shots{ratio} and its runs {by_runs}; that is more than 15 % "
        "apart, so the runs are used as they stand. Most of the difference lies between {places}.",
        "Hand over the runs that are missing, or correct the readings; if the runs count parts, name that column parts.", "note",
    )  # fmt: skip


def _read_thousands(frames: Frames) -> Judged:
    """Read a counter as kept in thousands where all that it shows is a thousandth of what the runs show."""
    compared = compare(frames, course_of(frames))
    n = len(frames["tools"])
    counted = np.bincount(compared.tool, weights=compared.counted, minlength=n)
    by_runs = np.bincount(compared.tool, weights=compared.by_runs, minlength=n)
    enough = counted >= LEAST_IN_THOUSANDS
    thousands = enough & agree(by_runs / np.where(enough, counted, 1.0) / THOUSAND)
    if not thousands.any():
        return dict(frames), []
    counter = frames["counter"]
    which = counter["tool_id"].isin(frames["tools"].loc[thousands, "tool_id"])
    firsts = counter[which & ~counter["tool_id"].duplicated()]
    of_tool = _positions(frames).reindex(firsts["tool_id"]).to_numpy(dtype=np.int64)
    firsts = firsts.assign(counted=[grouped(x) for x in counted[of_tool]], by_runs=[grouped(x) for x in by_runs[of_tool]])
    findings = mark(
        "counter", firsts, "counter_shots",
        "The counter of {tool_id} rises by {counted} while its runs show {by_runs} shots; all its readings are read as thousands.",
        "Write the whole number of shots.", "repaired",
    )  # fmt: skip
    shots = counter["counter_shots"].where(~which, counter["counter_shots"] * THOUSAND)
    return with_table(frames, "counter", counter.assign(counter_shots=shots)), findings
