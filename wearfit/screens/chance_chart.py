"""Told chances against what happened, drawn."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import altair as alt

from wearfit.screens import look
from wearfit.screens.figures import Numbers, figure
from wearfit.workflow.wording import frequency

TICKS: Final = (0, 1, 3, 10, 20, 40, 60, 80, 100)


def told_against_observed(curve: Sequence[Mapping[str, Any]]) -> None:
    """Draw a mark for each group of runs with like chances: how many wore out, and the band in which luck leaves it."""
    rows = [
        {
            "told": 100.0 * group["forecast"],
            "observed": 100.0 * group["observed"],
            "low": 100.0 * group["low"],
            "high": 100.0 * group["high"],
            "inside": "inside the band" if group["low"] <= group["observed"] <= group["high"] else "outside it",
        }
        for group in curve
    ]
    furthest = max(max(row["told"], row["observed"], row["high"]) for row in rows)
    data = alt.InlineData(values=rows)
    # Most chances are small: by their roots they are told apart, and zero still has a place.
    scale = alt.Scale(type="sqrt", domain=[0, furthest])
    axis = alt.Axis(values=[tick for tick in TICKS if tick <= furthest])
    x = alt.X("told:Q", title="Told that it wears out in the run (%)", scale=scale, axis=axis)
    y = alt.Y("observed:Q", title="Runs in which it did (%)", scale=scale, axis=axis)
    right = alt.InlineData(values=[{"told": 0.0, "observed": 0.0}, {"told": furthest, "observed": furthest}])
    layers = (
        alt.Chart(right).mark_line(strokeDash=[4, 4], color=look.QUIET, strokeWidth=1).encode(x=x, y=y),
        alt.Chart(data).mark_rule(color=look.QUIET, strokeWidth=6, opacity=0.45).encode(x=x, y="low:Q", y2="high:Q"),
        alt.Chart(data)
        .mark_point(filled=True, size=90, color=look.INK, opacity=1.0)
        .encode(x=x, y=y, shape=alt.Shape("inside:N", title=None, scale=alt.Scale(range=["circle", "triangle-up"]))),
    )
    told = [f"told {frequency(group['forecast'])}, {frequency(group['observed'])} of {group['n']} wore out" for group in curve]
    columns = ("Chance told, mean", "Runs", "Share that wore out", "Band, low (5 %)", "Band, high (95 %)")
    numbers = [(group["forecast"], group["n"], group["observed"], group["low"], group["high"]) for group in curve]
    figure(
        alt.layer(*layers).properties(height=320),
        f"Chances told against what happened, runs with like chances together: {'; '.join(told)}.",
        Numbers("told-chances", columns, numbers),
        "told",
    )
