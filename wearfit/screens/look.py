"""Colours, type and the theme of charts: calm ink on paper."""

from pathlib import Path
from typing import Any, Final

import altair as alt
import streamlit as st

_HERE: Final = Path(__file__).resolve().parent
MARK: Final = str(_HERE / "mark.svg")

PAPER: Final = "#FAF8F4"
INK: Final = "#22313F"
QUIET: Final = "#566472"  # 5.7 : 1 on paper
COPPER: Final = "#8F431A"  # what needs the reader
TEAL: Final = "#1B6663"  # what is given for comparison
SAND: Final = "#E9E2D6"
RULE: Final = "#C9BFAE"
FONT: Final = "'Segoe UI', 'Helvetica Neue', Arial, 'Liberation Sans', 'Noto Sans', sans-serif"


def dress() -> None:
    """What every page wears beyond the theme in `.streamlit/config.toml`."""
    st.html(_HERE / "look.css")
    st.logo(_HERE / "wordmark.svg", size="large")


def chart(drawn: alt.TopLevelMixin) -> Any:
    """A chart in the app's type and colours; to be the last step of every chart."""
    label = {"labelFont": FONT, "titleFont": FONT, "labelFontSize": 13, "titleFontSize": 13}
    return (
        drawn.configure(background=PAPER, font=FONT)
        .configure_view(stroke=None)
        .configure_axis(
            **label,
            labelColor=INK,
            titleColor=QUIET,
            titleFontWeight="normal",
            gridColor=SAND,
            domainColor=RULE,
            tickColor=RULE,
            labelOverlap="greedy",
            labelSeparation=8,
        )
        .configure_legend(**label, labelColor=INK, titleColor=QUIET, orient="top", direction="vertical", labelLimit=0)
        .configure_header(**label, labelColor=INK, titleColor=QUIET)
    )


def ruled(field: str, at: float, text: str, upright: bool) -> list[alt.Chart]:
    """Layers of a dashed line across a chart at a value of the field along x (`upright`) or y, with its words."""
    base = alt.Chart(alt.InlineData(values=[{field: at, "text": text}]))
    place: dict[str, Any] = {"x" if upright else "y": f"{field}:Q"}
    line = base.mark_rule(color=COPPER, strokeDash=[7, 4], strokeWidth=1.5).encode(**place)
    align: dict[str, Any] = {"align": "right", "dx": -6, "baseline": "top"} if upright else {"align": "left", "dx": 6, "dy": -8}
    other: dict[str, Any] = {"y": alt.value(2)} if upright else {"x": alt.value(0)}
    words = base.mark_text(color=COPPER, fontSize=13, fontWeight=600, **align).encode(text="text:N", **place, **other)
    return [line, words]
