"""How a counter went from reading to reading: counted on, passed its top, was set back, or leapt."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.counter.readings import Readings, day_texts, possible, readings_of
from wearfit.records.rules.counter.slips import IN_LINE
from wearfit.records.rules.marking import grouped, mark, of_tool

Array = np.ndarray

START, COUNTED, ROLLED, FALLEN, LEAPT = range(5)  # how a reading is reached from the one before
TOPS: Final = (999_999, 9_999_999)  # last numbers of counters with six and seven digits
NEAR = 0.1  # a roll-over starts within this share of the top and ends within this share of zero
DOUBTFUL_LEAP = 10.0  # named in the sentence; a step so many times faster than any other of its tool is doubted; judgement


@dataclass(frozen=True)
class Course:
    """The readings of the counter table with the way between them. All arrays have shape (reading,)."""

    readings: Readings
    reached: Array  # START to LEAPT
    made: Array  # shots since the reading before, 0 where that is not known
    segment: Array  # counts the stretches over which the counter is one and the same

    @property
    def steps(self) -> Array:
        """Positions of the readings that the counter was followed to; the reading before stands one position earlier."""
        return np.flatnonzero((self.reached == COUNTED) | (self.reached == ROLLED))


def course_of(frames: Frames) -> Course:
    """Follow every counter, never across a fall or a leap.

    Parameters
    ----------
    frames : Frames
        With the counter in order of tool and date, slips mended.
    """
    readings = readings_of(frames)
    n = len(readings.tool)
    step = np.diff(readings.shots)
    same = np.diff(readings.tool) == 0
    reached, made = np.full(n, START), np.zeros(n)
    ahead = reached[1:]  # a view: what is written here stands in `reached`
    ahead[same & (step < 0)] = FALLEN
    ahead[same & (step > possible(readings))] = LEAPT
    ahead[same & (step >= 0) & (step <= possible(readings))] = COUNTED
    made[1:] = np.where(ahead == COUNTED, step, 0.0)
    for position, shots in _roll_overs(readings, reached, made):
        reached[position], made[position] = ROLLED, shots
    segment = np.cumsum((reached != COUNTED) & (reached != ROLLED)) - 1
    return Course(readings, reached, made, segment)


def _roll_overs(readings: Readings, reached: Array, made: Array) -> list[tuple[int, float]]:
    """Falls from near the top to near zero that the tool's other steps bear out, with the shots made."""
    found = []
    for i in np.flatnonzero(reached == FALLEN).tolist():
        before, now = readings.shots[i - 1], readings.shots[i]
        top = next((top for top in TOPS if (1 - NEAR) * top <= before <= top and now <= NEAR * top), None)
        if top is None:
            continue
        mine = slice(*np.searchsorted(readings.tool, [readings.tool[i], readings.tool[i] + 1]).tolist())
        days = np.diff(readings.day[mine], prepend=readings.day[mine][0])
        rates = (made[mine] / np.maximum(days, 1))[made[mine] > 0]
        shots = float(top + 1 - before + now)
        length = readings.day[i] - readings.day[i - 1]
        # A tool with a reading above the top has more digits on its counter.
        if len(rates) and readings.shots[mine].max() <= top and shots <= min(
            IN_LINE * float(np.median(rates)) * max(length, 1), readings.able[i] * (length + 1)
        ):  # fmt: skip
            found.append((i, shots))
    return found


def note_breaks(frames: Frames, course: Course) -> list[Finding]:
    """One finding for each place where a counter did not simply count on."""
    doubtful = _doubtful(course)
    at = np.flatnonzero((course.reached >= ROLLED) | doubtful)
    if not len(at):
        return []
    odd = _with_reading_before(frames, course, at)
    rolled, fallen, leapt = (odd[course.reached[at] == how] for how in (ROLLED, FALLEN, LEAPT))
    return [
        *mark(
            "counter", rolled, "counter_shots",
            "The counter of {tool_id} goes from {was} on {was_on} to {shown} on {date}; it is read as having passed its highest number, "
            "and {counted} shots are counted between the two readings.",
            "If it was set back or exchanged instead, hand over its last reading before that and its first one after it.", "note",
        ),
        *mark(
            "counter", fallen, "counter_shots",
            "The counter of {tool_id} falls from {was} on {was_on} to {shown} on {date}: it was set back, another counter was fitted, or "
            "one of the two is mistyped. The shots between the two readings are not counted, so the tool may look younger than it is.",
            "Hand over the last reading before the change and the first one after it, or correct the mistyped one.", "note",
        ),
        *mark(
            "counter", leapt, "counter_shots",
            "The counter of {tool_id} rises from {was} on {was_on} to {shown} on {date}, more than the {most} shots that {cycle} allows in "
            "that time: it came from another tool, or one of the two is mistyped. The shots between the two readings are not counted.",
            "Correct the reading, or hand over the first one of the counter that was fitted.", "note",
        ),
        *mark(
            "counter", odd[doubtful[at]], "counter_shots",
            "The counter of {tool_id} rises from {was} on {was_on} to {shown} on {date}, more than ten times as fast as at any other time; "
            "the {counted} shots are counted as they stand.",
            "Check the two readings.", "note",
        ),
    ]  # fmt: skip


def _with_reading_before(frames: Frames, course: Course, at: Array) -> pd.DataFrame:
    """Rows of the counter table with what their sentences name."""
    counter = frames["counter"]
    shots, able = course.readings.shots, course.readings.able
    days = course.readings.day[at] - course.readings.day[at - 1] + 1
    cycle_s = of_tool(frames, counter.iloc[at], "cycle_time_s")
    text = {
        "shown": [grouped(n) for n in shots[at]],
        "was": [grouped(n) for n in shots[at - 1]],
        "was_on": day_texts(course.readings.day[at - 1]),
        "counted": [grouped(n) for n in course.made[at]],
        "most": [grouped(n) for n in able[at] * days],
        "cycle": ["the fastest cycle to be expected" if np.isnan(s) else f"a cycle of {s:g} s" for s in cycle_s],
    }
    return counter.iloc[at].assign(**text)


def _doubtful(course: Course) -> Array:
    """Whether each reading is reached DOUBTFUL_LEAP times as fast as any other of at least three of its tool, shape (reading,)."""
    at = np.flatnonzero(course.made > 0)
    doubtful = np.zeros(len(course.made), dtype=bool)
    if not len(at):
        return doubtful
    readings = course.readings
    tool, rate = readings.tool[at], course.made[at] / (readings.day[at] - readings.day[at - 1] + 1)
    begins = np.append(True, tool[1:] != tool[:-1])
    first, group = np.flatnonzero(begins), np.cumsum(begins) - 1
    fastest = rate == np.maximum.reduceat(rate, first)[group]
    next_fastest = np.maximum.reduceat(np.where(fastest, 0.0, rate), first)[group]
    alone = np.add.reduceat(fastest.astype(np.int64), first)[group] == 1
    count = np.bincount(group)[group]
    doubtful[at[fastest & alone & (count > 3) & (rate > DOUBTFUL_LEAP * next_fastest)]] = True
    return doubtful
