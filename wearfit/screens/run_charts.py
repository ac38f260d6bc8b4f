"""The risk along a run, drawn."""

from typing import Any

import streamlit as st

from wearfit.forecasts.run_risk import RunRisk
from wearfit.screens import look
from wearfit.screens.figures import Numbers, plain_figure
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
    top = min(max(float(curve.high.max()) * 1.05, 0.01), 1.0)
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
    plain_figure(_drawn(rows, top, float(answer["shots"]), accepted), says, numbers, "along")
    st.caption("The line is the chance by then, the shading holds 9 in 10 of what it may be. It begins with what the set-up costs.")


def _drawn(rows: list[dict[str, float]], top: float, asked: float, accepted: float) -> dict[str, Any]:
    """The chart: the band, the line in it, and rules at the run asked about and, where it is in sight, at the chance accepted."""
    x = {
        "field": "shots", "type": "quantitative", "title": "shots of the run made",
        "axis": {"format": ",.0f", "tickCount": 5}, "scale": {"nice": False},
    }  # fmt: skip
    low = {"field": "low", "type": "quantitative", "title": None}
    chance = {
        "field": "chance", "type": "quantitative", "title": None,
        "axis": {"labelExpr": look.PERCENT, "tickCount": 5}, "scale": {"domain": [0.0, top], "clamp": True},
    }  # fmt: skip
    percent = {"calculate": "format(100 * datum.chance, '.1f') + ' %'", "as": "percent"}
    told = [{"field": "shots", "type": "quantitative", "format": ",.0f"}, {"field": "percent", "type": "nominal", "title": "chance"}]
    layers: list[dict[str, Any]] = [
        {"mark": {"type": "area", "color": look.TEAL, "opacity": 0.18}, "encoding": {"x": x, "y": low, "y2": {"field": "high"}}},
        {
            "transform": [percent],
            "mark": {"type": "line", "color": look.INK, "strokeWidth": 2.5},
            "encoding": {"x": x, "y": chance, "tooltip": told},
        },
        *look.plain_rule("shots", asked, "this run", upright=True),
    ]
    if accepted < top:
        layers += look.plain_rule("chance", accepted, "what you accept", upright=False)
    return {"height": 280, "data": {"values": rows}, "layer": layers}
