"""Intervals on a common scale, as a table whose middle column is drawn.

Marks of our own: a line from early to late, a notch where it is likely, a flag that hangs from the line's level on the day to order by,
a lozenge for what the owner says. A line that goes on past the scale ends in an arrow. All of it stands in words beside, so
that nothing is told by the drawing alone; a reader that cannot see reads the same table.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import streamlit as st

from wearfit.screens.unbroken import escape
from wearfit.screens.ways import way

LEAST_WIDTH: Final = 0.004  # of the scale: a line that is shorter could not be seen


@dataclass(frozen=True)
class Tick:
    """A mark of the scale: where, from 0 to 1, and its words."""

    at: float
    text: str


@dataclass(frozen=True)
class Scale:
    """An even scale from `first` to `last`, with its marks."""

    first: float
    last: float
    ticks: tuple[Tick, ...]

    def at(self, value: float) -> float:
        """Where a value lies, 0 to 1 and beyond."""
        return (value - self.first) / (self.last - self.first)


def scale_over(values: Sequence[float], written: Callable[[float, float], str], steps: int = 5) -> Scale:
    """A scale of round marks that holds all values.

    Parameters
    ----------
    written : callable
        (value, step) to the words of a mark.
    steps : int
        Between marks, about.
    """
    low, high = min(values), max(values)
    step = round_step((high - low) / steps)
    first = step * math.floor(low / step)
    last = max(step * math.ceil(high / step), first + step)
    marks = range(round((last - first) / step) + 1)
    return Scale(first, last, tuple(Tick(n * step / (last - first), written(first + n * step, step)) for n in marks))


@dataclass(frozen=True)
class Interval:
    """One row.

    Parameters
    ----------
    name, under : str
        What it is of, and in quieter words what that is.
    said, more : str
        What the reader should know first, and the interval in words.
    low, likely, high : float or None
        On the scale, 0 to 1 and beyond; None where there is nothing to draw.
    flag, own : float or None
        The day to order by; what the owner says.
    outer : (float, float) or None
        A wider range, as a thin line under the other.
    loud : bool
        Whether it needs the reader now; the words say so, the type only helps.
    link : str or None
        Where its name leads, as `ways.address` gives it.
    """

    name: str
    under: str
    said: str
    more: str
    low: float | None
    likely: float | None
    high: float | None
    flag: float | None = None
    own: float | None = None
    outer: tuple[float, float] | None = None
    loud: bool = False
    link: str | None = None


def draw(rows: Sequence[Interval], ticks: Sequence[Tick], says: str, heads: tuple[str, str, str], key: str) -> None:
    """Draw the table.

    Parameters
    ----------
    says : str
        What the table is, for readers who cannot see it.
    heads : (str, str, str)
        Of the three columns: names, scale, words.
    """
    scale = "".join(f'<span class="wf-tick" style="left:{_percent(t.at)}">{escape(t.text)}</span>' for t in ticks)
    names, drawn, words = (f'<th role="columnheader" scope="col">{head}</th>' for head in (escape(heads[0]), "{}", escape(heads[2])))
    drawn = drawn.format(f'<span class="wf-unseen">{escape(heads[1])}</span><span class="wf-scale" aria-hidden="true">{scale}</span>')
    head = f'<tr role="row" class="wf-head">{names}{drawn}{words}</tr>'
    body = "".join(_row(row, ticks) for row in rows)
    with st.container(key=f"{key}_intervals"):
        st.html(
            f'<table role="table" class="wf-intervals" aria-label="{escape(says)}"><thead role="rowgroup">{head}</thead>'
            f'<tbody role="rowgroup">{body}</tbody></table>'
        )


def legend(flag: bool = True, own: bool = False) -> None:
    """What the marks are, in words."""
    parts = [
        '<span class="wf-key"><i class="wf-line"></i></span> early to late: 8 in 10 lie on the line',
        '<span class="wf-key"><i class="wf-notch"></i></span> likely: as many earlier as later',
    ]
    if flag:
        parts.append('<span class="wf-key"><i class="wf-flag"></i></span> last day to order')
    if own:
        parts.append('<span class="wf-key"><i class="wf-own"></i></span> what the owner says')
    parts.append('<span class="wf-key"><i class="wf-line wf-on"></i></span> goes on past the scale')
    st.html(f'<p class="wf-legend">{"".join(f"<span>{part}</span>" for part in parts)}</p>')


def round_step(least: float) -> float:
    """The next number of the series 1, 2, 5, 10 … from a number up, for the marks of a scale; 1 for none."""
    if least <= 0.0:
        return 1.0
    size = 10.0 ** math.floor(math.log10(least))
    return next(size * n for n in (1.0, 2.0, 5.0, 10.0) if size * n >= least * (1.0 - 1e-9))


def _row(row: Interval, ticks: Sequence[Tick]) -> str:
    named = escape(row.name) if row.link is None else way(row.link, row.name)
    kinds = ("wf-row", "wf-loud" if row.loud else "", "wf-bare" if row.low is None and row.own is None else "")
    cells = (
        f'<th role="rowheader" scope="row">{named}<span class="wf-under">{escape(row.under)}</span></th>',
        f'<td role="cell" class="wf-drawn"><span class="wf-track" aria-hidden="true">{_drawn(row, ticks)}</span></td>',
        f'<td role="cell" class="wf-words"><span class="wf-said">{escape(row.said)}</span>',
        f'<span class="wf-more">{escape(row.more)}</span></td>',
    )
    return f'<tr role="row" class="{" ".join(filter(None, kinds))}">{"".join(cells)}</tr>'


def _drawn(row: Interval, ticks: Sequence[Tick]) -> str:
    marks = [f'<i class="wf-rule" style="left:{_percent(tick.at)}"></i>' for tick in ticks]
    if row.outer is not None:
        start, end = (min(max(at, 0.0), 1.0) for at in row.outer)
        marks.append(f'<i class="wf-outer" style="left:{_percent(start)};width:{_percent(max(end - start, LEAST_WIDTH))}"></i>')
    if row.low is not None and row.low < 1.0:
        end = 1.0 if row.high is None else min(row.high, 1.0)
        on = " wf-on" if row.high is None or row.high > 1.0 else ""
        width = max(end - row.low, LEAST_WIDTH)
        marks.append(f'<i class="wf-line{on}" style="left:{_percent(row.low)};width:{_percent(width)}"></i>')
    elif row.low is not None:
        marks.append('<i class="wf-line wf-on" style="left:98.5%;width:1.5%"></i>')
    if row.likely is not None and row.likely <= 1.0:
        marks.append(f'<i class="wf-notch" style="left:{_percent(row.likely)}"></i>')
    if row.flag is not None and row.flag <= 1.0:
        marks.append(f'<i class="wf-flag" style="left:{_percent(row.flag)}"></i>')
    if row.own is not None and row.own <= 1.0:
        marks.append(f'<i class="wf-own" style="left:{_percent(row.own)}"></i>')
    return "".join(marks)


def _percent(share: float) -> str:
    return f"{100.0 * max(share, 0.0):.2f}%"
