"""Readings that were mistyped: those that the readings before and after them contradict.

A reading that is less than the one before while the next goes on from there, or more than the next while that goes on from
the one before, was mistyped and is left out. So are two or three such readings in a row where the jump back is out of line
with the tool's other steps. Values that fit a thousandfold were typed in thousands. Where a slip and a counter set back to
zero are both possible, the slip is taken, which counts fewer shots, unless the tool's other steps speak clearly for zero.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
import pandas as pd

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.counter.readings import Readings, day_texts, possible, readings_of
from wearfit.records.rules.marking import Judged, grouped, mark, with_table

IN_LINE = 5.0  # a step is in line where its rate is at most so many times the tool's usual one; judgement
SLACK_USE = 0.25  # below this share of the usual rate the use between two readings is slack; judgement
LONGEST_SLIP = 3  # readings in a row; more are a counter of their own
THOUSAND = 1000.0
FAR_BELOW = 100.0  # a reading so many times smaller than its neighbour may be in thousands


@dataclass(frozen=True)
class Slip:
    """A mistyped reading of one tool, by its place in the tool's readings; `read_as` is NaN where it is left out."""

    place: int
    read_as: float
    before: int | None  # places of the readings that show it
    after: int | None


def mend_slips(frames: Frames) -> Judged:
    """Leave out mistyped readings, and read those typed in thousands as they were meant.

    Parameters
    ----------
    frames : Frames
        With the counter in order of tool and date.
    """
    counter = frames["counter"]
    readings = readings_of(frames)
    place, read_as, before, after = [], [], [], []
    for first, last in _suspects(readings):
        of_one = slice(first, last)
        for slip in find_slips(readings.day[of_one].tolist(), readings.shots[of_one].tolist(), float(readings.able[first])):
            place.append(first + slip.place)
            read_as.append(slip.read_as)
            before.append(-1 if slip.before is None else first + slip.before)
            after.append(-1 if slip.after is None else first + slip.after)
    if not place:
        return dict(frames), []
    slips = counter.iloc[place].assign(
        read_as=read_as,
        shown=[grouped(shots) for shots in readings.shots[place]],
        meant=["" if np.isnan(shots) else grouped(shots) for shots in read_as],
        witnesses=[_witnesses(readings, i, j) for i, j in zip(before, after, strict=True)],
    )
    mended = readings.shots.copy()
    mended[place] = read_as
    kept = counter.assign(counter_shots=mended)[~np.isnan(mended)]
    return with_table(frames, "counter", kept), _findings(slips)


def _findings(slips: pd.DataFrame) -> list[Finding]:
    left_out = slips["read_as"].isna()
    return [
        *mark(
            "counter", slips[left_out], "counter_shots",
            "The counter of {tool_id} reads {shown} on {date}, but {witnesses}, which agree with each other; the reading is left out.",
            "Correct the reading; if the counter was set back on that day, hand over one more reading from soon after it.", "set_aside",
        ),
        *mark(
            "counter", slips[~left_out], "counter_shots",
            "The counter of {tool_id} reads {shown} on {date}, but {witnesses}; it is read as typed in thousands, {meant}.",
            "Write the whole number of shots.", "repaired",
        ),
    ]  # fmt: skip


def _witnesses(readings: Readings, before: int, after: int) -> str:
    known = np.array([i for i in (before, after) if i >= 0])
    said = zip(readings.shots[known], day_texts(readings.day[known]), strict=True)
    return " and ".join(f"{grouped(shots)} on {day}" for shots, day in said)


def _suspects(readings: Readings) -> Iterator[tuple[int, int]]:
    """First and past-the-last reading of each tool whose readings do not simply rise."""
    step = np.diff(readings.shots)
    same = np.diff(readings.tool) == 0
    leap = (readings.shots[:-1] > 0) & (readings.shots[1:] >= FAR_BELOW * readings.shots[:-1]) & (readings.shots[1:] >= THOUSAND)
    odd = np.unique(readings.tool[1:][same & ((step < 0) | (step > possible(readings)) | leap)])
    first, last = np.searchsorted(readings.tool, odd, side="left"), np.searchsorted(readings.tool, odd, side="right")
    return zip(first.tolist(), last.tolist(), strict=True)


def find_slips(day: Sequence[int], shots: Sequence[float], able: float) -> list[Slip]:
    """Mistyped readings of one tool.

    Parameters
    ----------
    day : sequence of int, shape (reading,)
        In order.
    shots : sequence of float, shape (reading,)
    able : float
        Most shots that the tool can make in a day.
    """
    course = _Course(list(day), list(shots), able)
    places = list(range(len(course.day)))
    slips: list[Slip] = []
    while (found := _in_thousands(course)) or (found := _left_out(course)):
        first, last, read_as = found
        before, after = first - 1 if first > 0 else None, last + 1 if last + 1 < len(places) else None
        for i in range(first, last + 1):
            value = read_as[i - first] if read_as else float("nan")
            neighbours = (None if before is None else places[before], None if after is None else places[after])
            slips.append(Slip(places[i], value, *neighbours))
        if read_as:
            course.shots[first : last + 1] = read_as
        else:
            for per_reading in (course.day, course.shots, places):
                del per_reading[first : last + 1]
    return slips


@dataclass(frozen=True)
class _Course:
    day: list[int]
    shots: list[float]
    able: float

    def rate(self, i: int, j: int) -> float:
        return (self.shots[j] - self.shots[i]) / max(self.day[j] - self.day[i], 1)

    def can(self, i: int, j: int) -> bool:
        return 0 <= self.shots[j] - self.shots[i] <= self.able * (self.day[j] - self.day[i] + 1)

    def other_rates(self, first: int, last: int) -> list[float]:
        """Rates of the plain steps that do not touch the readings first to last."""
        clear = (i for i in range(len(self.day) - 1) if i > last or i + 1 < first)
        return [self.rate(i, i + 1) for i in clear if self.shots[i + 1] > self.shots[i] and self.can(i, i + 1)]

    def falls(self) -> Iterable[int]:
        return (i for i in range(len(self.day) - 1) if self.shots[i + 1] < self.shots[i])


_Block = tuple[int, int, list[float]]  # first and last reading, and what they are read as; nothing where they are left out


def _in_thousands(course: _Course) -> _Block | None:
    shots = course.shots
    blocks = [(fall + 1, _last_below(shots, fall + 1, shots[fall] / FAR_BELOW)) for fall in course.falls()]
    leap = next((i for i in range(len(shots) - 1) if 0 < shots[i] * FAR_BELOW <= shots[i + 1]), None)
    if leap is not None:
        blocks.append((0, leap))
    for first, last in blocks:
        if first <= last and (read_as := _times_thousand(course, first, last)):
            return first, last, read_as
    return None


def _last_below(shots: Sequence[float], first: int, limit: float) -> int:
    """Last of the readings from `first` on that lie below a limit, first - 1 where it does not."""
    last = first - 1
    while last + 1 < len(shots) and shots[last + 1] < limit:
        last += 1
    return last


def _times_thousand(course: _Course, first: int, last: int) -> list[float]:
    """A block of readings a thousandfold, where that and nothing else fits between its neighbours; else nothing."""
    shots = course.shots
    has_before, has_after = first > 0, last + 1 < len(shots)
    others = course.other_rates(first, last)
    # A thousand may have been rounded away on either side.
    low = shots[first - 1] if has_before else 0.0
    high = shots[last + 1] if has_after else float("inf")
    scaled = [THOUSAND * value for value in shots[first : last + 1]]
    if min(scaled) <= 0 or min(scaled) < low - THOUSAND or max(scaled) > high + THOUSAND:
        return []
    read_as = [min(max(value, low), high) for value in scaled]
    trial = _Course(course.day, [*shots[:first], *read_as, *shots[last + 1 :]], course.able)
    steps = range(max(first - 1, 0), min(last + 1, len(shots) - 1))
    if not all(trial.can(i, i + 1) for i in steps):
        return []
    if has_before and has_after:
        return read_as
    # With a neighbour on one side only, the counter may have been set back, or have begun near zero: the rates must tell.
    if len(others) < 2 or (has_before and last == first):
        return []
    most = IN_LINE * median(others)
    leaps = has_before or course.rate(last, last + 1) > most
    return read_as if leaps and all(trial.rate(i, i + 1) <= most for i in steps) else []


def _left_out(course: _Course) -> _Block | None:
    for fall in course.falls():
        found = []
        for length in range(1, LONGEST_SLIP + 1):
            for first in (fall + 1, fall - length + 1):
                last = first + length - 1
                jump = last if first > fall else first - 1  # the step up, back to the course or away from it
                if _contradicted(course, first, last) and _is_slip(course, first, last, jump):
                    found.append((length, -course.rate(jump, jump + 1), first, last))
        if found:
            _, _, first, last = min(found)
            return first, last, []
    return None


def _contradicted(course: _Course, first: int, last: int) -> bool:
    """Whether the readings around a block agree with each other and with none of it."""
    before, after = first - 1, last + 1
    if before < 0 or after >= len(course.day) or not course.can(before, after):
        return False
    low, high = course.shots[before], course.shots[after]
    block = course.shots[first:after]
    return max(block) < low or min(block) > high


def _is_slip(course: _Course, first: int, last: int, jump: int) -> bool:
    others = course.other_rates(first, last)
    if not others:
        return first == last
    usual = median(others)
    in_line = course.can(jump, jump + 1) and course.rate(jump, jump + 1) <= IN_LINE * usual
    if last > first:
        return not in_line
    fallen = first if jump == first else last + 1
    since_zero = course.shots[fallen] / max(course.day[fallen] - course.day[fallen - 1], 1)
    slack = course.rate(first - 1, last + 1) < SLACK_USE * usual
    return not (len(others) >= 3 and in_line and slack and since_zero <= IN_LINE * usual)
