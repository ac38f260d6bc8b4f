"""Life at each plant against a measure of its air, drawn with the fitted relation beside its prior."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import altair as alt
import numpy as np
import streamlit as st

from wearfit.exposures.corrosivity import CONDITIONED_LOSS_UM
from wearfit.screens import cached, look
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, held_figure
from wearfit.screens.life_scale import life_scale
from wearfit.workflow.plants_in_words import times

NEAR: Final = 0.06  # of the height, and
NAME: Final = 0.25  # of the width, that a name takes on a small screen
RIGHT: Final = 0.6  # of the width, up to which a name stands to the right of its point where it can
CURVE_STEP: Final = 2  # of the points of a curve, one in so many is in the table
MOST_STEPS: Final = 12  # that a name gives way
KINDS: Final = ("fitted to the records", "believed beforehand")


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
    curve = [] if measure.covariate is None else _curve(answering, measure, first, last)

    def drawn() -> alt.TopLevelMixin:
        shares = alt.Axis(labelExpr=look.PERCENT, tickCount=5)
        x = alt.X(
            "x:Q", title=measure.axis,
            scale=alt.Scale(type="log" if measure.log else "linear", domain=[first, last], nice=False),
            axis=shares if measure.covariate == "sweating_between" else alt.Axis(format=",.0f", tickCount=5),
        )  # fmt: skip
        points = [_point(plant, measure) for plant in known]
        life = _life([float(row[q]) for row in (*points, *curve) for q in ("low", "high")])
        layers = [*(_relation(curve, x, life) if curve else []), *_points(_placed(points, first, last, measure.log), x, life)]
        return alt.layer(*layers).properties(height=340)

    held_figure(drawn, (answering, name), _says(name, known), _numbers(name, measure, known, curve), "air")
    st.caption(_reads(measure))
    if len(known) < len(plants):
        left = ", ".join(str(plant["plant_id"]) for plant in plants if plant[measure.field] is None)
        st.caption(f"Not drawn, for their climate is not recorded: {left}.")


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


def _relation(curve: Sequence[Mapping[str, Any]], x: alt.X, life: Callable[[str], alt.Y]) -> list[Any]:
    fitted, prior = ([row for row in curve if row["kind"] == kind] for kind in KINDS)
    shared: dict[str, Any] = {"title": None, "legend": alt.Legend(symbolSize=500)}
    both = alt.Chart(alt.InlineData(values=list(curve)))
    edges = alt.Chart(alt.InlineData(values=prior)).mark_line(color=look.QUIET, strokeDash=[2, 3], strokeWidth=1)
    return [
        alt.Chart(alt.InlineData(values=fitted)).mark_area(color=look.TEAL, opacity=0.18).encode(x=x, y=life("low"), y2="high:Q"),
        edges.encode(x=x, y=life("low")),
        edges.encode(x=x, y=life("high")),
        both.mark_line(strokeWidth=2).encode(
            x=x,
            y=life("likely"),
            color=alt.Color("kind:N", scale=alt.Scale(domain=list(KINDS), range=[look.TEAL, look.QUIET]), **shared),
            strokeDash=alt.StrokeDash("kind:N", scale=alt.Scale(domain=list(KINDS), range=[[1, 0], [6, 4]]), **shared),
        ),
    ]


def _points(points: Sequence[Mapping[str, Any]], x: alt.X, life: Callable[[str], alt.Y]) -> list[Any]:
    base = alt.Chart(alt.InlineData(values=list(points)))
    layers: list[Any] = [
        base.mark_rule(color=look.INK, strokeWidth=1.5).encode(x=x, y=life("low"), y2="high:Q"),
        base.mark_point(size=80, color=look.INK, filled=True, opacity=1).encode(
            x=x, y=life("likely"), tooltip=["plant:N", alt.Tooltip("likely:Q", format=".2f", title="life")]
        ),
    ]
    aligned: tuple[tuple[str, Literal["left", "right"], int], ...] = (("right", "left", 9), ("left", "right", -9))
    for side, align, dx in aligned:
        named = base.transform_filter(alt.datum.side == side).encode(x=x, y=life("label"), text="plant:N")
        # On paper of its own, so that no line runs through a name.
        layers.append(named.mark_text(align=align, dx=dx, fontSize=13, color=look.PAPER, stroke=look.PAPER, strokeWidth=4))
        layers.append(named.mark_text(align=align, dx=dx, fontSize=13, color=look.INK))
    return layers


def _life(values: Sequence[float]) -> Callable[[str], alt.Y]:
    scale, axis = life_scale(values)
    return lambda field: alt.Y(f"{field}:Q", title="life over that of the mean plant", scale=scale, axis=axis)


def _placed(points: Sequence[Mapping[str, Any]], first: float, last: float, log: bool) -> list[dict[str, Any]]:
    """Points with the side and the height of their names: the first place that runs into no point and no other name."""
    scale = math.log if log else float
    heights = [math.log(p[q]) for p in points for q in ("low", "high")]
    bottom, height = min(heights), max(heights) - min(heights) or 1.0
    places = [((scale(p["x"]) - scale(first)) / (scale(last) - scale(first)), (math.log(p["likely"]) - bottom) / height) for p in points]
    placed, names = [], list[tuple[float, float]]()
    for i in np.argsort([-y for _, y in places]):  # from above, so that a name that has to give way goes down
        (x, y), marks = places[i], [*places[:i], *places[i + 1 :]]
        sides = ("right", "left") if x < RIGHT else ("left", "right")
        tries = [(side, y - n * NEAR / 2) for n in range(MOST_STEPS) for side in sides if _fits(side, x)]
        free = (t for t in tries if not any(_meets(t, x, mark, 0.0) for mark in marks) and not any(_meets(t, x, n, NAME) for n in names))
        side, at = next(free, tries[0])
        names.append((x if side == "right" else x - NAME, at))
        placed.append({**points[i], "side": side, "label": math.exp(bottom + at * height)})
    return placed


def _fits(side: str, x: float) -> bool:
    return x + NAME <= 1.0 if side == "right" else x >= NAME


def _meets(name: tuple[str, float], x: float, other: tuple[float, float], width: float) -> bool:
    """Whether a name beside a point at x runs into something so wide that begins at another place."""
    begins = x if name[0] == "right" else x - NAME
    return abs(name[1] - other[1]) < NEAR and begins < other[0] + width and other[0] < begins + NAME


def _says(name: str, plants: Sequence[Mapping[str, Any]]) -> str:
    words = "; ".join(f"{plant['plant_id']} {times(plant['life_factor'])}" for plant in plants)
    return f"Life at each plant over that of the mean plant, against {name}. {words}."


def _numbers(name: str, measure: Measure, plants: Sequence[Mapping[str, Any]], curve: Sequence[Mapping[str, Any]]) -> Numbers:
    columns = (
        "Plant, or curve",
        measure.axis.capitalize(),
        "Life, low (5 %)",
        "Life, likely",
        "Life, high (95 %)",
        "Lives",
        "Wear-outs",
        "Shots",
    )
    rows = [
        (
            str(p["plant_id"]), p[measure.field], *(p["life_factor"][q] for q in ("p05", "p50", "p95")), p["lives"], p["wear_outs"],
            round(p["shots"]),
        )
        for p in plants
    ]  # fmt: skip
    along = [(row["kind"], row["x"], row["low"], row["likely"], row["high"], None, None, None) for row in curve[::CURVE_STEP]]
    return Numbers(f"plants-{name.replace(' ', '-')}", columns, [*rows, *along])


def _reads(measure: Measure) -> str:
    points = "Points are all that a plant does to life, with the line that holds 9 in 10."
    if measure.covariate is None:
        return f"{points} The wear law knows sweating and corrosivity, not this measure, so that no relation is fitted to it."
    return (
        f"{points} The curve is what this measure alone does, its shading holds 9 in 10; dashed, the same before any record. A plant "
        "lies off the curve by the other measures and by what climate does not explain."
    )
