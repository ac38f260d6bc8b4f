"""What is left of one tool: the chance that it is still good, along time or shots."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

import altair as alt
import streamlit as st

from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.screens import look
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, figure
from wearfit.workflow.due import wear_out_in_words

NOTHING_LEFT: Final = 0.02  # chance under which a curve is not drawn on
LEAST_POINTS: Final = 25  # of the curve over months that are drawn all the same


def remaining_section(left: RemainingLife, tool: Mapping[str, Any], answering: Answering) -> None:
    """Draw the curve along time or shots; nothing where the tool is worn or its age is unknown."""
    if not left.known or tool["status"] == "worn":
        return
    st.header("What is left", anchor=False)
    by = st.segmented_control("Along", ("time", "shots"), default="time", required=True, key="along", bind="query-params")
    y = alt.Y(
        "chance:Q",
        title=None,
        scale=alt.Scale(domain=[0, 1]),
        axis=alt.Axis(values=[0, 0.2, 0.4, 0.6, 0.8, 1], labelExpr="round(datum.value * 10) + ' in 10'"),
    )
    kinds = ["not worn out", "not worn out, nor stopped by sudden damage"]
    if by == "shots":
        rows: list[dict[str, Any]] = [
            {"at": float(n), "chance": float(p), "kind": kinds[0]} for n, p in zip(left.shots, left.good_by_shots, strict=True)
        ]
        x: Any = alt.X("at:Q", title="shots from now on", axis=alt.Axis(format=",.0f", tickCount=5))
        numbers = Numbers(
            f"remaining-shots-{tool['tool_id']}",
            ("Shots from now on", "Chance that it is not worn out"),
            [(round(n), round(float(p), 4)) for n, p in zip(left.shots, left.good_by_shots, strict=True)],
        )
    else:
        days = [answering.as_of + dt.timedelta(days=float(d)) for d in left.days]
        shown = days[: max(LEAST_POINTS, int((left.good > NOTHING_LEFT).sum()) + 1)]
        rows = [
            {"at": day.isoformat(), "chance": float(p), "kind": kind}
            for kind, curve in zip(kinds, (left.good, left.running), strict=True)
            for day, p in zip(shown, curve, strict=False)
        ]
        x = alt.X("at:T", title=None, axis=alt.Axis(format="%Y", tickCount="year"))
        numbers = Numbers(
            f"remaining-life-{tool['tool_id']}",
            ("Day", "Chance that it is not worn out", "Chance that it is neither worn out nor stopped by sudden damage"),
            [(day.isoformat(), round(float(g), 4), round(float(r), 4)) for day, g, r in zip(days, left.good, left.running, strict=True)],
        )
    shared: dict[str, Any] = {"title": None, "sort": kinds, "legend": alt.Legend(symbolSize=500)}
    drawn = (
        alt.Chart(alt.InlineData(values=rows))
        .mark_line(strokeWidth=2.5)
        .encode(
            x=x,
            y=y,
            color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[look.INK, look.TEAL]), **shared),
            strokeDash=alt.StrokeDash("kind:N", scale=alt.Scale(domain=kinds, range=[[1, 0], [6, 4]]), **shared),
            tooltip=[alt.Tooltip("chance:Q", format=".2f", title="chance"), alt.Tooltip("kind:N", title=" ")],
        )
        .properties(height=280)
    )
    words = wear_out_in_words(tool, answering.within.horizon_years, answering.as_of)
    says = f"The chance that {tool['tool_id']} is still good, falling from 10 in 10. It wears out: {words}."
    figure(drawn, says, numbers, f"left_{by}")
