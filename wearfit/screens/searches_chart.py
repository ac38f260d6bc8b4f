"""The separate searches of a calibration side by side, drawn behind the words."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Final

import altair as alt
import streamlit as st

from wearfit.screens import look
from wearfit.screens.figures import Numbers, downloads, table
from wearfit.workflow.evidence_in_words import SEARCHES, Searched

LINE: Final = 22  # letters of a label, so that it leaves the chart room on a narrow screen
SHAPES: Final = ("circle", "square", "diamond", "triangle-up")
COLUMNS: Final = ("Quantity", *(f"search {i + 1}, middle" for i in range(SEARCHES)))


def side_by_side(found: Sequence[Searched]) -> None:
    """Draw where each search found the quantities in which they differ most, folded away until somebody opens it."""
    folded = st.expander("The four searches side by side", key="searches", on_change="rerun")
    if not folded.open:  # a chart in a closed fold is never drawn, and a reader of the page would wait for it
        return
    with folded:
        rows = [
            {"name": "|".join(wrap(q.name, LINE)), "search": f"search {i + 1}", "low": low, "middle": middle, "high": high}
            for q in found
            for i, (low, middle, high) in enumerate(q.found)
        ]
        names = list(dict.fromkeys(str(row["name"]) for row in rows))
        base = alt.Chart(alt.InlineData(values=rows)).encode(
            y=alt.Y("name:N", title=None, sort=names, axis=look.folded_axis(), scale=alt.Scale(paddingInner=0.2)),
            yOffset=alt.YOffset("search:N"),
        )
        shape = alt.Shape("search:N", title=None, scale=alt.Scale(range=list(SHAPES)))
        x = alt.X("low:Q", title=["standard deviations", "from the middle of all draws"], axis=alt.Axis(tickCount=5))
        drawn = alt.layer(
            base.mark_rule(color=look.QUIET).encode(x=x, x2="high:Q"),
            base.mark_point(size=50, color=look.INK, filled=True, opacity=1).encode(x="middle:Q", shape=shape),
        ).properties(height=max(160, 62 * len(found)))
        furthest = max((max(m for _, m, _ in q.found) - min(m for _, m, _ in q.found) for q in found), default=0.0)
        says = f"Middle half of the draws of each search, for the quantities in which they differ most: by {furthest:.2f} at most."
        st.altair_chart(look.chart(drawn), width="stretch", theme=None, alt=says, key="searches_chart")
        st.caption(f"{says} Searches that agree lie one above the other.")
        numbers = Numbers("searches", COLUMNS, [(q.name, *(round(m, 3) for _, m, _ in q.found)) for q in found])
        table(numbers, says, "searches")
        downloads(numbers, "searches")
