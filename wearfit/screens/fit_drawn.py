"""The part of Evidence that sets the records against what is believed of them."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import altair as alt
import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import cached, look, shell, states
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, downloads, figure, in_numbers, table
from wearfit.screens.sentences import listed
from wearfit.screens.unbroken import escape
from wearfit.workflow.fit_in_words import TITLES, odds, part_name, subject
from wearfit.workflow.planned import kept_planned
from wearfit.workflow.wording import shots

OBSERVED, GOOD, EXPECTED = "wore out", "observed", "expected"
COLUMNS: Final = ("Looked at", "Part", "Wore out", "Expected", "Luck, low (5 %)", "Luck, high (95 %)", "As odd by chance", "Stands out")
POINTS: Final = ("Shots", "Good, observed", "Good, expected", "Luck, low (5 %)", "Luck, high (95 %)", "Lives there")


def fit_section(answering: Answering) -> None:
    """Draw what stands out, wear-outs by part beside what was expected, and lives against shots."""
    st.header("Do the records fit what it believes?", anchor=False)
    try:
        if not shell.ready(cached.fit_job(answering), "Setting the records against what is believed of them"):
            return
    except Refusal as refusal:
        states.note("Not looked at", refusal.problem, refusal.repair)
        return
    document = cached.fit_job(answering).result()
    first, *others = document["sentences"]
    st.html(f'<p class="wf-lead">{escape(first)}</p>')
    listed(others)
    _parts(document["checks"])
    _lives(document["curves"])
    _planned(answering)


def _parts(checks: Sequence[Mapping[str, Any]]) -> None:
    st.subheader("Wear-outs beside what was expected", anchor=False)
    ways = [by for by in TITLES if by != "all" and any(c["by"] == by for c in checks)]
    by = st.selectbox(
        "Lives parted by", ways, index=ways.index("month") if "month" in ways else 0, format_func=TITLES.__getitem__, width=420
    )
    shown = [c for c in checks if c["by"] == by]
    names = [part_name(by, c["name"]) for c in shown]
    rows = [
        {"part": name, "low": c["low"], "high": c["high"], "n": n, "what": what, "worn": c["observed"], "believed": c["expected"]}
        for name, c in zip(names, shown, strict=True)
        for what, n in ((OBSERVED, c["observed"]), (EXPECTED, c["expected"]))
    ]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        y=alt.Y("part:N", title=None, sort=names, axis=alt.Axis(labelLimit=150, ticks=False))
    )
    kinds: dict[str, Any] = {"title": None, "sort": [OBSERVED, EXPECTED], "legend": alt.Legend(symbolSize=110)}
    shape = alt.Shape("what:N", scale=alt.Scale(domain=[OBSERVED, EXPECTED], range=["circle", "diamond"]), **kinds)
    fill = alt.Fill("what:N", scale=alt.Scale(domain=[OBSERVED, EXPECTED], range=[look.INK, look.PAPER]), **kinds)
    x = alt.X("low:Q", title="Wear-outs", scale=alt.Scale(zero=True), axis=alt.Axis(tickMinStep=1, tickCount=6))
    drawn = alt.layer(
        base.mark_rule(color=look.RULE, strokeWidth=8).encode(x=x, x2="high:Q"),
        base.mark_point(size=90, stroke=look.INK, strokeWidth=1.5, opacity=1).encode(x="n:Q", shape=shape, fill=fill),
    ).properties(height=max(140, 34 * len(shown)))
    told = "; ".join(f"{name}: {c['observed']:.0f} wore out, {c['expected']:.1f} expected" for name, c in zip(names, shown, strict=True))
    figure(
        drawn, f"Wear-outs by {TITLES[by].lower()}, beside what was expected and the band of luck. {told}.", _numbers("fit", shown), "fit"
    )
    st.caption(
        "The bar holds 9 in 10 of what luck, and what is not known, leave. A part stands out only where luck would hardly ever leave "
        "any of them so far off."
    )
    with st.expander("All that was looked at"):
        table(_numbers("fit-all", checks), "Every part that was looked at.", "fit_all")
        downloads(_numbers("fit-all", checks), "fit_all", workbook=True)


def _numbers(name: str, checks: Sequence[Mapping[str, Any]]) -> Numbers:
    rows = [
        (
            TITLES[c["by"]], part_name(c["by"], c["name"]), round(c["observed"], 1), round(c["expected"], 1), c["low"], c["high"],
            odds(c["p"]), "yes" if c["told"] else "no",
        )
        for c in checks
    ]  # fmt: skip
    return Numbers(name, COLUMNS, rows)


def _lives(curves: Sequence[Mapping[str, Any]]) -> None:
    if not curves:
        return
    st.subheader("Lives against shots", anchor=False)
    place = st.selectbox("Lives of", range(len(curves)), format_func=lambda i: _called(curves[i]), width=420)
    curve = curves[place]
    data = alt.Chart(
        alt.InlineData(values=[{**p, **{n: 100.0 * p[n] for n in ("observed", "expected", "low", "high")}} for p in curve["points"]])
    )
    x = alt.X(
        "shots:Q", title="shots since new, retooled or refurbished", axis=alt.Axis(format=",.0f", tickCount=5), scale=alt.Scale(nice=False)
    )
    y_axis: dict[str, Any] = {"title": "Lives still good (%)", "scale": alt.Scale(domain=[0, 100])}
    lines = [
        {**p, "what": what, "good": 100.0 * p[what_of]}
        for what, what_of in ((GOOD, "observed"), (EXPECTED, "expected"))
        for p in curve["points"]
    ]
    dash = alt.StrokeDash("what:N", title=None, sort=[GOOD, EXPECTED], scale=alt.Scale(domain=[GOOD, EXPECTED], range=[[1, 0], [6, 4]]))
    color = alt.Color("what:N", title=None, sort=[GOOD, EXPECTED], scale=alt.Scale(domain=[GOOD, EXPECTED], range=[look.INK, look.TEAL]))
    drawn = alt.layer(
        data.mark_area(color=look.TEAL, opacity=0.18).encode(x=x, y=alt.Y("low:Q", **y_axis), y2="high:Q"),
        alt.Chart(alt.InlineData(values=lines))
        .mark_line(strokeWidth=2.5, interpolate="step-after")
        .encode(x=x, y=alt.Y("good:Q", **y_axis), strokeDash=dash, color=color),
    ).properties(height=280)
    middle = curve["points"][len(curve["points"]) // 2]
    says = (
        f"Share of lives of {subject(curve['by'], curve['name'])} still good against shots: at {shots(middle['shots'])} shots "
        f"{100 * middle['observed']:.0f} % were, {100 * middle['expected']:.0f} % were expected, luck leaves {100 * middle['low']:.0f} to "
        f"{100 * middle['high']:.0f} %."
    )
    rows = [tuple(round(p[n], 3) for n in ("shots", "observed", "expected", "low", "high", "at_risk")) for p in curve["points"]]
    figure(drawn, says, Numbers("fit-lives", POINTS, rows), "lives_fit")
    st.caption(
        "Observed: the product-limit estimate of what wore out, lives that go on or ended otherwise counted as far as they were seen. "
        "Expected: what is believed of these very lives, where and in what they ran. Shaded: 9 in 10 of what luck, and what is not "
        "known, leave."
    )


def _called(curve: Mapping[str, Any]) -> str:
    named = subject(curve["by"], curve["name"])
    return f"{named[0].upper()}{named[1:]} ({curve['lives']} lives)"


def _planned(answering: Answering) -> None:
    st.subheader("If planned renewals were wear-outs", anchor=False)
    kept = kept_planned(answering.version.store, answering.version.number)
    if kept is None:
        st.write(
            "A tool renewed ahead of wear counts as good until then. Where it was renewed because it looked worn, that is too kind. "
            "Run `wearfit fit --planned` to see what hangs on it: it calibrates once more."
        )
        return
    listed(kept["sentences"])
    after = kept["as_wear"] or kept["as_recorded"]
    before = kept["as_recorded"]
    rows = [
        ("Wear-outs expected in the next 12 months", before["expected_12_months"], after["expected_12_months"]),
        ("Chance that a usual next run wears its tool out", before["next_run"], after["next_run"]),
        *(
            (f"Likely shots of a new tool of class {name}", life[1], after["class_lives"][name][1])
            for name, life in before["class_lives"].items()
        ),
    ]
    in_numbers(Numbers("planned", ("Forecast", "As recorded", "As wear-outs"), rows), "Forecasts both ways.", "planned")
