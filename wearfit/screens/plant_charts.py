"""Plants drawn: life against a measure of the air, and what is climate apart from what is not."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import altair as alt
import streamlit as st

from wearfit.exposures.corrosivity import CONDITIONED_LOSS_UM
from wearfit.screens import cached, look
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, figure
from wearfit.workflow.plants_in_words import times

LIFE_TICKS: Final = (0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5, 10)
NEAR: Final = 0.09  # of the scales' widths, within which two names would run into each other
KINDS: Final = ("fitted to the records", "believed beforehand")
PARTS: Final = (("life_factor_climate", "by its climate"), ("life_factor_unexplained", "by all that climate does not explain"))


@dataclass(frozen=True)
class Measure:
    """A measure of the air.

    Parameters
    ----------
    field : str
        Of a plant as `answers.plants` gives it.
    axis : str
        With its unit.
    covariate : str or None
        Of the wear law, where it is one.
    log : bool
        Whether it is drawn on a logarithmic scale, which the covariate then is the logarithm of, over a conditioned hall's.
    """

    field: str
    axis: str
    covariate: str | None
    log: bool


MEASURES: Final[Mapping[str, Measure]] = {
    "sweating": Measure("sweating_share", "share of press hours in which the mould sweats", "sweating_between", False),
    "corrosivity": Measure("corrosivity_um_per_year", "loss of bare carbon steel in its first year, µm", "log_corrosivity", True),
    "time of wetness": Measure("wet_hours_per_year", "hours a year that are humid and above freezing", None, False),
}


def against_air(answering: Answering, plants: Sequence[Mapping[str, Any]]) -> None:
    """Draw life factors against a measure of the air, with the fitted relation beside its prior."""
    st.header("Life against the air", anchor=False)
    name = st.segmented_control("By", list(MEASURES), default="sweating", required=True, key="by", bind="query-params") or "sweating"
    measure = MEASURES[name]
    known = [plant for plant in plants if plant[measure.field] is not None]
    if not known:
        st.write(f"No plant's {name} is known: its climate is not recorded.")
        return
    first, last = _span(measure, [float(plant[measure.field]) for plant in known])
    x = alt.X(
        "x:Q", title=measure.axis,
        scale=alt.Scale(type="log" if measure.log else "linear", domain=[first, last], nice=False),
        axis=alt.Axis(format=".0%" if measure.covariate == "sweating_between" else ",.0f", tickCount=5),
    )  # fmt: skip
    points = [_point(plant, measure) for plant in known]
    layers, curve = [], []
    if measure.covariate is not None:
        curve = _curve(answering, measure, first, last)
        layers += _relation(curve, x)
    layers += _points(points, x, first, last, measure.log)
    figure(alt.layer(*layers).properties(height=340), _says(name, known), _numbers(name, measure, known), "air")
    st.caption(_reads(measure))
    if len(known) < len(plants):
        left = ", ".join(str(plant["plant_id"]) for plant in plants if plant[measure.field] is None)
        st.caption(f"Not drawn, for their climate is not recorded: {left}.")


def apart(plants: Sequence[Mapping[str, Any]]) -> None:
    """Draw two marks a plant: what its climate does to life, and what is not explained by it."""
    st.header("Climate, and all the rest", anchor=False)
    kinds = [kind for _, kind in PARTS]
    ranked = sorted(plants, key=lambda plant: -(plant["life_factor"]["p50"] or 0.0))
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
    life = alt.Scale(type="log", nice=False, domain=_life_domain(rows))
    axis = alt.Axis(values=_ticks(rows), labelExpr="datum.value + '×'")
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
    columns = ("Plant", *(f"{what}, {q}" for what in ("Life", "By climate", "By the rest") for q in ("low (5 %)", "likely", "high (95 %)")))
    fields = ("life_factor", *(field for field, _ in PARTS))
    numbers = [(str(plant["plant_id"]), *(plant[field][q] for field in fields for q in ("p05", "p50", "p95"))) for plant in ranked]
    words = "; ".join(f"{p['plant_id']}: climate {times(p[PARTS[0][0]])}, the rest {times(p[PARTS[1][0]])}" for p in ranked)
    figure(
        alt.layer(*layers).properties(height=max(160, 54 * len(ranked))),
        f"Life at each plant over life at the mean plant, in two parts. {words}.",
        Numbers("plants", columns, numbers),
        "apart",
    )
    st.caption(
        "Life at the plant over life at the mean of these plants; the two parts multiply to what tools last there. Lines hold 9 in 10. "
        "What climate does not explain is care, presses, set-up and chance."
    )


def _span(measure: Measure, values: Sequence[float]) -> tuple[float, float]:
    if measure.log:
        return min(*values, CONDITIONED_LOSS_UM) / 1.25, max(values) * 1.35
    return (-0.03, 1.03) if measure.covariate is not None else (-0.03 * max(values), 1.06 * max(*values, 1.0))


def _point(plant: Mapping[str, Any], measure: Measure) -> dict[str, Any]:
    life = plant["life_factor"]
    return {
        "plant": str(plant["plant_id"]),
        "x": float(plant[measure.field]),
        "low": life["p05"],
        "likely": life["p50"],
        "high": life["p95"],
    }


def _curve(answering: Answering, measure: Measure, first: float, last: float) -> list[dict[str, Any]]:
    assert measure.covariate is not None
    ends = [math.log(x / CONDITIONED_LOSS_UM) if measure.log else min(max(x, 0.0), 1.0) for x in (first, last)]
    along = cached.life_along(answering.version, measure.covariate, *ends)
    at = [CONDITIONED_LOSS_UM * math.exp(level) if measure.log else float(level) for level in along.level]
    bands = ((KINDS[0], along.low, along.likely, along.high), (KINDS[1], along.prior_low, along.prior_likely, along.prior_high))
    return [
        {"x": x, "kind": kind, "low": float(low[i]), "likely": float(likely[i]), "high": float(high[i])}
        for kind, low, likely, high in bands
        for i, x in enumerate(at)
    ]


def _relation(curve: Sequence[Mapping[str, Any]], x: alt.X) -> list[Any]:
    fitted, prior = ([row for row in curve if row["kind"] == kind] for kind in KINDS)
    shared: dict[str, Any] = {"title": None, "legend": alt.Legend(symbolSize=500)}
    both = alt.Chart(alt.InlineData(values=list(curve)))
    edges = alt.Chart(alt.InlineData(values=prior)).mark_line(color=look.QUIET, strokeDash=[2, 3], strokeWidth=1)
    return [
        alt.Chart(alt.InlineData(values=fitted)).mark_area(color=look.TEAL, opacity=0.18).encode(x=x, y=_life("low"), y2="high:Q"),
        edges.encode(x=x, y=_life("low")),
        edges.encode(x=x, y=_life("high")),
        both.mark_line(strokeWidth=2).encode(
            x=x,
            y=_life("likely"),
            color=alt.Color("kind:N", scale=alt.Scale(domain=list(KINDS), range=[look.TEAL, look.QUIET]), **shared),
            strokeDash=alt.StrokeDash("kind:N", scale=alt.Scale(domain=list(KINDS), range=[[1, 0], [6, 4]]), **shared),
        ),
    ]


def _points(points: Sequence[Mapping[str, Any]], x: alt.X, first: float, last: float, log: bool) -> list[Any]:
    base = alt.Chart(alt.InlineData(values=_placed(points, first, last, log)))
    layers: list[Any] = [
        base.mark_rule(color=look.INK, strokeWidth=1.5).encode(x=x, y=_life("low"), y2="high:Q"),
        base.mark_point(size=80, color=look.INK, filled=True, opacity=1).encode(
            x=x, y=_life("likely"), tooltip=["plant:N", alt.Tooltip("likely:Q", format=".2f", title="life")]
        ),
    ]
    aligned: tuple[tuple[str, Literal["left", "right"], int], ...] = (("right", "left", 9), ("left", "right", -9))
    for side, align, dx in aligned:
        named = base.transform_filter(alt.datum.side == side)
        layers.append(named.mark_text(align=align, dx=dx, color=look.INK, fontSize=13).encode(x=x, y=_life("label"), text="plant:N"))
    return layers


def _life(field: str) -> alt.Y:
    return alt.Y(
        f"{field}:Q", title="life over that of the mean plant", scale=alt.Scale(type="log", nice=False),
        axis=alt.Axis(values=list(LIFE_TICKS), labelExpr="datum.value + '×'"),
    )  # fmt: skip


def _placed(points: Sequence[Mapping[str, Any]], first: float, last: float, log: bool) -> list[dict[str, Any]]:
    """Points with the side and the height of their names, so that none runs into another."""
    scale = math.log if log else float
    width = scale(last) - scale(first)
    placed: list[dict[str, Any]] = []
    heights = [math.log(p[q]) for p in points for q in ("low", "high")]
    height = max(heights) - min(heights) or 1.0
    for point in sorted(points, key=lambda p: (p["x"], p["likely"])):
        at = (scale(point["x"]) - scale(first)) / width
        side, label = "right" if at < 0.62 else "left", math.log(point["likely"])
        taken = [other["_at"] for other in placed if other["side"] == side and abs(other["_x"] - at) < 3 * NEAR]
        while any(abs(label - other) < NEAR * height for other in taken):
            label += 0.25 * NEAR * height
        placed.append({**point, "side": side, "label": math.exp(label), "_at": label, "_x": at})
    return placed


def _life_domain(rows: Sequence[Mapping[str, Any]]) -> list[float]:
    return [min(row["low"] for row in rows) / 1.05, max(row["high"] for row in rows) * 1.05]


def _ticks(rows: Sequence[Mapping[str, Any]]) -> list[float]:
    low, high = _life_domain(rows)
    return [tick for tick in LIFE_TICKS if low <= tick <= high]


def _says(name: str, plants: Sequence[Mapping[str, Any]]) -> str:
    words = "; ".join(f"{plant['plant_id']} {times(plant['life_factor'])}" for plant in plants)
    return f"Life at each plant over that of the mean plant, against {name}. {words}."


def _numbers(name: str, measure: Measure, plants: Sequence[Mapping[str, Any]]) -> Numbers:
    columns = ("Plant", measure.axis.capitalize(), "Life, low (5 %)", "Life, likely", "Life, high (95 %)", "Lives", "Wear-outs", "Shots")
    rows = [
        (
            str(p["plant_id"]), p[measure.field], *(p["life_factor"][q] for q in ("p05", "p50", "p95")), p["lives"], p["wear_outs"],
            round(p["shots"]),
        )
        for p in plants
    ]  # fmt: skip
    return Numbers(f"plants-{name.replace(' ', '-')}", columns, rows)


def _reads(measure: Measure) -> str:
    points = "Points are all that a plant does to life, with the line that holds 9 in 10."
    if measure.covariate is None:
        return f"{points} The wear law knows sweating and corrosivity, not this measure, so that no relation is fitted to it."
    return (
        f"{points} The curve is what this measure alone does, its shading holds 9 in 10; dashed, the same before any record. A plant "
        "lies off the curve by the other measures and by what climate does not explain."
    )
