"""Colours, type and the theme of charts: calm ink on paper."""

from collections.abc import Mapping
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


_LABEL: Final = {"labelFont": FONT, "titleFont": FONT, "labelFontSize": 13, "titleFontSize": 13, "labelColor": INK, "titleColor": QUIET}
CONFIG: Final[dict[str, Any]] = {
    "background": PAPER,
    "font": FONT,
    "view": {"stroke": None},
    "axis": {
        **_LABEL,
        "titleFontWeight": "normal",
        "gridColor": SAND,
        "domainColor": RULE,
        "tickColor": RULE,
        "labelOverlap": "greedy",
        "labelSeparation": 8,
    },
    "legend": {**_LABEL, "orient": "top", "direction": "vertical", "labelLimit": 0},
    "header": _LABEL,
}
"""The app's type and colours, as Vega-Lite has them."""

PERCENT: Final = "format(100 * datum.value, ',.1~f') + ' %'"
"""What an axis of shares writes at its ticks: a format of Vega's has no blank before the sign."""


def chart(drawn: alt.TopLevelMixin) -> Any:
    """A chart in the app's type and colours; to be the last step of every chart."""
    return drawn.configure(**CONFIG)


def plain_chart(drawn: Mapping[str, Any]) -> dict[str, Any]:
    """The same of a chart that is written as Vega-Lite itself: for one that every question draws anew, as Altair takes longer to check a
    chart than all answers on the page take, one page at a time."""
    return {"$schema": alt.SCHEMA_URL, "config": CONFIG, **drawn}


_HALF_LINE: Final = 7.0  # [px]


def folded_axis() -> alt.Axis:
    """An axis of names whose lines are parted by bars, each in the middle of its place: Vega puts only its first line there."""
    lines = "length(split(datum.label, '|'))"
    higher = [{"test": f"{lines} == {n}", "value": -_HALF_LINE * (n - 1)} for n in (2, 3, 4)]
    offset: Any = {"condition": higher, "value": 0}
    return alt.Axis(labelExpr="split(datum.label, '|')", labelOverlap=False, labelOffset=offset, ticks=False, domain=False)


_RULE_MARK: Final = {"color": COPPER, "strokeDash": [7, 4], "strokeWidth": 1.5}
_WORDS_MARK: Final = {"color": COPPER, "fontSize": 13, "fontWeight": 600}
_UPRIGHT_WORDS: Final = {**_WORDS_MARK, "align": "right", "dx": -6, "baseline": "top"}
_LEVEL_WORDS: Final = {**_WORDS_MARK, "align": "left", "dx": 6, "dy": -8}


def ruled(field: str, at: float, text: str, upright: bool) -> list[alt.Chart]:
    """Layers of a dashed line across a chart at a value of the field along x (`upright`) or y, with its words."""
    return [alt.Chart.from_dict(layer) for layer in plain_rule(field, at, text, upright)]


def plain_rule(field: str, at: float, text: str, upright: bool) -> list[dict[str, Any]]:
    """The same as Vega-Lite has it."""
    data = {"values": [{field: at, "text": text}]}
    along, across = ("x", {"y": {"value": 2}}) if upright else ("y", {"x": {"value": 0}})
    place = {along: {"field": field, "type": "quantitative"}}
    words = {"text": {"field": "text", "type": "nominal"}, **place, **across}
    return [
        {"data": data, "mark": {"type": "rule", **_RULE_MARK}, "encoding": place},
        {"data": data, "mark": {"type": "text", **(_UPRIGHT_WORDS if upright else _LEVEL_WORDS)}, "encoding": words},
    ]
