"""What a plant's climate does to life, apart from what is not explained by it, drawn."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import altair as alt
import streamlit as st

from wearfit.screens import look
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, held_figure
from wearfit.screens.life_scale import life_scale
from wearfit.workflow.plants_in_words import times

PARTS: Final = (("life_factor_climate", "by its climate"), ("life_factor_unexplained", "by all that climate does not explain"))


def apart(answering: Answering, plants: Sequence[Mapping[str, Any]]) -> None:
    """Draw two marks a plant: what its climate does to life, and what is not explained by it."""
    st.header("Climate, and all the rest", anchor=False)
    ranked = sorted(plants, key=lambda plant: -(plant["life_factor"]["p50"] or 0.0))
    columns = ("Plant", *(f"{what}, {q}" for what in ("Life", "By climate", "By the rest") for q in ("low (5 %)", "likely", "high (95 %)")))
    fields = ("life_factor", *(field for field, _ in PARTS))
    numbers = [(str(plant["plant_id"]), *(plant[field][q] for field in fields for q in ("p05", "p50", "p95"))) for plant in ranked]
    words = "; ".join(f"{p['plant_id']}: climate {times(p[PARTS[0][0]])}, the rest {times(p[PARTS[1][0]])}" for p in ranked)
    held_figure(
        lambda: _drawn(ranked),
        answering,
        f"Life at each plant over life at the mean plant, in two parts. {words}.",
        Numbers("plants", columns, numbers),
        "apart",
    )
    st.caption(
        "Life at the plant over life at the mean of these plants; the two parts multiply to what tools last there. Lines hold 9 in 10. "
        "What climate does not explain is care, presses, set-up and chance."
    )


def _drawn(ranked: Sequence[Mapping[str, Any]]) -> alt.TopLevelMixin:
    kinds = [kind for _, kind in PARTS]
    order = [str(plant["plant_id"]) for plant in ranked]
    rows = [
        {
            "plant": str(plant["plant_id"]),
            "part": kind,
            "low": plant[field]["p05"],
            "likely": plant[field]["p50"],
            "high": plant[field]["p95"],
        }
        for plant in ranked
        for field, kind in PARTS
    ]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        y=alt.Y(
            "plant:N", title=None, sort=order, scale=alt.Scale(paddingInner=0.25), axis=alt.Axis(labelLimit=140, ticks=False, domain=False)
        ),
        yOffset=alt.YOffset("part:N", sort=kinds, scale=alt.Scale(paddingOuter=0.4)),
    )
    life, axis = life_scale([float(row[q]) for row in rows for q in ("low", "high")])
    legend: dict[str, Any] = {"title": None, "sort": kinds, "legend": alt.Legend(symbolSize=110)}
    shape = alt.Shape("part:N", scale=alt.Scale(domain=kinds, range=["circle", "diamond"]), **legend)
    fill = alt.Fill("part:N", scale=alt.Scale(domain=kinds, range=[look.INK, look.PAPER]), **legend)
    layers = [
        alt.Chart(alt.InlineData(values=[{"one": 1.0}])).mark_rule(color=look.QUIET, strokeDash=[3, 3]).encode(x="one:Q"),
        base.mark_rule(color=look.INK, strokeWidth=2).encode(x=alt.X("low:Q", title=None, scale=life, axis=axis), x2="high:Q"),
        base.mark_point(size=110, stroke=look.INK, strokeWidth=2, opacity=1).encode(
            x="likely:Q", shape=shape, fill=fill, tooltip=["plant:N", "part:N", alt.Tooltip("likely:Q", format=".2f")]
        ),
    ]
    return alt.layer(*layers).properties(height=max(160, 54 * len(ranked)))
