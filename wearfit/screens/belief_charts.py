"""What was believed before the records and after, drawn: two ranges each."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Any, Final

import altair as alt

from wearfit.forecasts.believed import Belief
from wearfit.screens import look
from wearfit.screens.figures import Numbers, figure
from wearfit.screens.life_scale import life_scale
from wearfit.workflow.evidence_in_words import factor_sentence, life_sentence

BEFORE, AFTER = "believed before", "with the records"
PARTS: Final = (BEFORE, AFTER)
TWO_LINES, THREE_LINES = 62, 78  # pixels from one label to the next
LINE: Final = 26  # letters of a label, so that it leaves the chart room on a narrow screen
RANGES: Final = ("before, low (5 %)", "before, likely", "before, high (95 %)", "after, low (5 %)", "after, likely", "after, high (95 %)")


def lives(beliefs: Sequence[Belief]) -> None:
    """Draw the life of a new tool of each service class, on a logarithmic scale."""
    axis = alt.Axis(format=",.0f", tickCount=5)
    drawn = _ranges(beliefs, {b.name: f"Class {b.name}" for b in beliefs}, alt.Scale(type="log", nice=True), axis, "Machine shots")
    says = "; ".join(life_sentence(belief) for belief in beliefs)
    figure(drawn, f"Life of a new tool of each class, before and after. {says}.", _numbers("class-lives", "Class", beliefs), "lives")


def effects(beliefs: Sequence[Belief]) -> None:
    """Draw what each covariate multiplies the wear of a shot by."""
    scale, axis = life_scale([end for belief in beliefs for end in (*belief.before, *belief.after)])
    names = {belief.name: "|".join(wrap(belief.short, LINE)) for belief in beliefs}
    one = alt.Chart(alt.InlineData(values=[{"one": 1.0}])).mark_rule(color=look.QUIET, strokeDash=[3, 3]).encode(x="one:Q")
    drawn = _ranges(beliefs, names, scale, axis, "Wear of a shot, times", one)
    says = "; ".join(factor_sentence(belief) for belief in beliefs)
    figure(drawn, f"What wears tools faster, before and after. {says}.", _numbers("wear-factors", "Measure", beliefs), "effects")


def _ranges(
    beliefs: Sequence[Belief], names: dict[str, str], scale: alt.Scale, axis: alt.Axis, title: str, *below: alt.Chart
) -> alt.TopLevelMixin:
    rows = [
        {"name": names[belief.name], "part": part, "low": low, "likely": likely, "high": high}
        for belief in beliefs
        for part, (low, likely, high) in ((BEFORE, belief.before), (AFTER, belief.after))
    ]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        y=alt.Y("name:N", title=None, sort=list(names.values()), scale=alt.Scale(paddingInner=0.25), axis=look.folded_axis()),
        yOffset=alt.YOffset("part:N", sort=list(PARTS), scale=alt.Scale(paddingOuter=0.4)),
    )
    legend: dict[str, Any] = {"title": None, "sort": list(PARTS), "legend": alt.Legend(symbolSize=110)}
    shape = alt.Shape("part:N", scale=alt.Scale(domain=list(PARTS), range=["diamond", "circle"]), **legend)
    fill = alt.Fill("part:N", scale=alt.Scale(domain=list(PARTS), range=[look.PAPER, look.INK]), **legend)
    return alt.layer(
        *below,
        base.mark_rule(color=look.INK, strokeWidth=2).encode(x=alt.X("low:Q", title=title, scale=scale, axis=axis), x2="high:Q"),
        base.mark_point(size=110, stroke=look.INK, strokeWidth=2, opacity=1).encode(x="likely:Q", shape=shape, fill=fill),
    ).properties(height=max(160, (THREE_LINES if any(name.count("|") >= 2 for name in names.values()) else TWO_LINES) * len(beliefs)))


def _numbers(name: str, head: str, beliefs: Sequence[Belief]) -> Numbers:
    return Numbers(name, (head, *RANGES), [(belief.short, *belief.before, *belief.after) for belief in beliefs])
