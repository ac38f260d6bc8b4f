"""The readings of one tool against their limits, drawn over time."""

import altair as alt
import streamlit as st

from wearfit.screens import look
from wearfit.screens.figures import Numbers, figure
from wearfit.workflow.tool_history import Reading, ToolHistory
from wearfit.workflow.wording import count


def readings_section(history: ToolHistory) -> None:
    """Draw one chart a feature; nothing but a sentence where none was measured."""
    st.header("Readings", anchor=False)
    if not history.readings:
        st.write("None on record. A feature that is measured now and then narrows the dates more than anything else.")
        return
    for feature in sorted({reading.feature for reading in history.readings}):
        of_feature = [reading for reading in history.readings if reading.feature == feature]
        st.subheader(feature, anchor=False)
        numbers = Numbers(
            f"readings-{history.tool_id}-{feature}",
            ("Day", "Value", "Only known to lie below", "New", "Limit", "Life"),
            [(r.day, r.value, "yes" if r.below else "no", r.new_value, r.limit, r.life) for r in of_feature],
        )
        figure(_drawn(of_feature), _says(feature, of_feature), numbers, f"reading_{feature}")


def _says(feature: str, readings: list[Reading]) -> str:
    last = max(readings, key=lambda r: r.day)
    value = f"{'below' if last.below else 'at'} {last.value:g}"
    return f"{count(len(readings), 'reading', 'readings')} of {feature} by day; the last, on {last.day}, {value}, its limit {last.limit:g}."


def _drawn(readings: list[Reading]) -> alt.TopLevelMixin:
    kinds = ["read", "only known to lie below"]
    rows = [{"day": r.day, "value": r.value, "life": f"life {r.life}", "kind": kinds[r.below], "limit": r.limit} for r in readings]
    data = alt.InlineData(values=rows)
    x = alt.X("day:T", title=None, axis=alt.Axis(format="%Y", tickCount="year"))
    y = alt.Y("value:Q", title=None, scale=alt.Scale(zero=False, nice=True))
    base = alt.Chart(data)
    line = base.mark_line(color=look.INK, strokeWidth=1.5, opacity=0.6).encode(x=x, y=y, detail="life:N")
    points = base.mark_point(size=70, color=look.INK, filled=True, opacity=1).encode(
        x=x,
        y=y,
        shape=alt.Shape(
            "kind:N",
            title=None,
            scale=alt.Scale(domain=kinds, range=["circle", "triangle-down"]),
            legend=alt.Legend(orient="top"),
        ),
        tooltip=[alt.Tooltip("day:T", format="%Y-%m-%d"), "value:Q", "life:N"],
    )
    limits = base.mark_rule(color=look.COPPER, strokeDash=[7, 4], strokeWidth=2).encode(y="limit:Q")
    words = base.transform_aggregate(limit="max(limit)", day="min(day)").mark_text(
        align="left", dx=6, dy=-8, color=look.COPPER, fontSize=13, fontWeight=600
    )
    named = words.encode(x=alt.X("day:T"), y="limit:Q", text=alt.value("limit"))
    return alt.layer(limits, line, points, named).properties(height=240)
