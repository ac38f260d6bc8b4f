"""The risk along a run, drawn."""

from typing import Any

import altair as alt
import streamlit as st

from wearfit.forecasts.run_risk import RunRisk
from wearfit.screens import look
from wearfit.screens.figures import Numbers, figure
from wearfit.workflow.run_in_words import percent
from wearfit.workflow.wording import frequency, shots


def along(risk: RunRisk, accepted: float) -> None:
    """Draw the chance that the tool is worn out by each number of shots, with its band."""
    assert risk.along is not None
    curve, answer = risk.along, risk.answer
    st.header("The risk along the run", anchor=False)
    rows = [
        {"shots": float(n), "chance": float(p), "low": float(low), "high": float(high)}
        for n, p, low, high in zip(curve.shots, curve.chance, curve.low, curve.high, strict=True)
    ]
    top = max(float(curve.high.max()) * 1.05, 0.01)
    x = alt.X("shots:Q", title="shots of the run made", axis=alt.Axis(format=",.0f", tickCount=5), scale=alt.Scale(nice=False))
    axis = alt.Axis(format=".1~%" if top < 0.05 else ".0%", tickCount=5)
    y = alt.Y("chance:Q", title=None, axis=axis, scale=alt.Scale(domain=[0.0, min(top, 1.0)], clamp=True))
    base = alt.Chart(alt.InlineData(values=rows))
    layers: list[Any] = [
        base.mark_area(color=look.TEAL, opacity=0.18).encode(x=x, y=alt.Y("low:Q", title=None), y2="high:Q"),
        base.mark_line(color=look.INK, strokeWidth=2.5).encode(
            x=x, y=y, tooltip=[alt.Tooltip("shots:Q", format=",.0f"), alt.Tooltip("chance:Q", format=".1%")]
        ),
        *look.ruled("shots", float(answer["shots"]), "this run", upright=True),
    ]
    if accepted < min(top, 1.0):
        layers += look.ruled("chance", accepted, "what you accept", upright=False)
    numbers = Numbers(
        f"next-run-{answer['tool_id']}-along",
        ("Shots made", "Chance that it is worn out by then", "Low (5 %)", "High (95 %)"),
        [(round(r["shots"]), round(r["chance"], 5), round(r["low"], 5), round(r["high"], 5)) for r in rows],
    )
    half = len(curve.chance) // 2
    says = (
        f"The chance that {answer['tool_id']} is worn out, rising along the run: {percent(float(curve.chance[half]))} after "
        f"{shots(float(curve.shots[half]))} shots, {percent(answer['p_wear_out'])} ({frequency(answer['p_wear_out'])}) at its end. "
        "Shaded: what holds 9 in 10."
    )
    figure(alt.layer(*layers).properties(height=280), says, numbers, "along")
    st.caption("The line is the chance by then, the shading holds 9 in 10 of what it may be. It begins with what the set-up costs.")
