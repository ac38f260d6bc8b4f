"""The cost of replacing a tool at each age, drawn."""

from collections.abc import Mapping
from typing import Any

import altair as alt
import streamlit as st

from wearfit.decisions.money import amount
from wearfit.screens import look
from wearfit.screens.figures import Numbers, figure


def along_age(document: Mapping[str, Any]) -> None:
    """Draw the cost along the age at which a tool is replaced, with its band, and mark the best age."""
    st.header("The cost along the replacement age", anchor=False)
    curve, best = document["curve"], document["best_age_shots"]
    x = alt.X("age_shots:Q", title="replaced after so many shots", axis=alt.Axis(format=",.0f", tickCount=5), scale=alt.Scale(nice=False))
    top = max(point["cost"] for point in curve) * 1.25
    y = alt.Y("cost:Q", title=None, axis=alt.Axis(format=",.0f", tickCount=5), scale=alt.Scale(domain=[0, top], clamp=True))
    base = alt.Chart(alt.InlineData(values=curve))
    layers: list[Any] = [
        base.mark_area(color=look.TEAL, opacity=0.18, clip=True).encode(x=x, y=alt.Y("p05:Q", title=None), y2="p95:Q"),
        base.mark_line(color=look.INK, strokeWidth=2.5).encode(
            x=x, y=y, tooltip=[alt.Tooltip("age_shots:Q", format=",.0f"), alt.Tooltip("cost:Q", format=",.0f")]
        ),
    ]
    if best is not None:
        layers += look.ruled("age_shots", float(best), "best age", upright=True)
    columns = ("Replaced after (shots)", f"Cost {document['cost_of']}", "Low (5 %)", "High (95 %)")
    rows = [tuple(round(point[name], 1) for name in ("age_shots", "cost", "p05", "p95")) for point in curve]
    lowest = "no age costs less than waiting for the stop" if best is None else f"it is lowest at {amount(best)} shots"
    says = f"Cost {document['cost_of']} along the age at which a tool is replaced before it stops: {lowest}. Shaded: what holds 9 in 10."
    figure(alt.layer(*layers).properties(height=260), says, Numbers("choice-replacement-age-curve", columns, rows), "age")
    st.caption(f"Cost {document['cost_of']}; the shading holds 9 in 10 of what it may be.")
