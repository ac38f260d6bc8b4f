"""The part of Evidence that says which records and which beliefs moved the forecasts."""

from collections.abc import Mapping
from typing import Any, Final

import altair as alt
import streamlit as st

from wearfit.screens import look, states
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, figure, in_numbers
from wearfit.screens.sentences import listed
from wearfit.workflow.moved import kept_moved
from wearfit.workflow.moved_in_words import BATCHES, WEAR_OUTS, belief_name, belief_sentences, record_sentences

BATCH_COLUMNS: Final = ("Batch", "Which", "Wear-outs in it", "Expected without it", "Monte Carlo error", "Tail of the weights, k")
BELIEF_COLUMNS: Final = ("Belief", "Moves itself", "Moves the wear-outs", "Half as firm", "Twice as firm")


def moved_section(answering: Answering) -> None:
    """Draw what moved the forecasts, where the store keeps an answer about this calibration."""
    st.header("What moved the forecasts?", anchor=False)
    kept = kept_moved(answering.version.store, answering.version.number)
    if kept is None:
        states.note(
            "Not asked yet",
            "Nobody has asked yet what each batch of records, and each belief, did to the forecasts of this calibration.",
            "Run `wearfit moved`; it takes about a minute.",
        )
        return
    listed(record_sentences(kept))
    _batches(kept)
    st.subheader("What hangs on beliefs", anchor=False)
    listed(belief_sentences(kept["beliefs"]))
    in_numbers(
        _beliefs(kept["beliefs"]), "How far each belief moves what it is of, and the wear-outs of the next 12 months.", "beliefs_move"
    )


def _batches(kept: Mapping[str, Any]) -> None:
    ways = [by for by in BATCHES if any(b["by"] == by for b in kept["batches"])]
    if not ways:
        return
    start = ways.index("quarter") if "quarter" in ways else 0
    by = st.selectbox("Without the records of each", ways, index=start, format_func=BATCHES.__getitem__, width=420)
    shown = [b for b in kept["batches"] if b["by"] == by]
    told = [b for b in shown if b["reliable"]]
    now = kept["wear_outs_ahead"]
    numbers = Numbers("what-moved", BATCH_COLUMNS, [_row(b) for b in kept["batches"]])
    if not told:
        st.write("Each of them has too large an effect to be told without recalibrating.")
        in_numbers(numbers, "Every batch of records.", "moved")
        return
    rows = [
        {
            "name": b["name"],
            "ahead": b["wear_outs_ahead"],
            "low": b["wear_outs_ahead"] - 2 * b["error"],
            "high": b["wear_outs_ahead"] + 2 * b["error"],
        }
        for b in told
    ]
    names = [b["name"] for b in told]
    y = alt.Y("name:N", title=None, sort=names, axis=alt.Axis(labelLimit=170, ticks=False))
    x: dict[str, Any] = {
        "title": "Wear-outs expected in the next 12 months",
        "scale": alt.Scale(zero=False, nice=True),
        "axis": alt.Axis(tickCount=5),
    }
    base = alt.Chart(alt.InlineData(values=rows)).encode(y=y)
    drawn = alt.layer(
        base.mark_rule(color=look.RULE, strokeWidth=6).encode(x=alt.X("low:Q", **x), x2="high:Q"),
        base.mark_point(size=90, filled=True, color=look.INK, opacity=1).encode(x=alt.X("ahead:Q", **x)),
        *look.ruled("ahead", now, "now", upright=True),
    ).properties(height=max(140, 36 * len(told)))
    says = "; ".join(f"without {b['name']} {b['wear_outs_ahead']:.1f}" for b in told)
    figure(drawn, f"Wear-outs expected in the next 12 months, {now:.1f} now: {says}.", numbers, "moved")
    missing = (
        f" Too large an effect to be drawn: {', '.join(b['name'] for b in shown if not b['reliable'])}." if len(told) < len(shown) else ""
    )
    st.caption(f"By weighing the draws anew; the bar is twice the error of that to either side.{missing}")


def _row(b: Mapping[str, Any]) -> tuple[Any, ...]:
    rounded = [None if b[name] is None else round(b[name], 2) for name in ("wear_outs_ahead", "error", "khat")]
    return BATCHES[b["by"]], b["name"], b["wear_outs"], *rounded


def _beliefs(beliefs: Mapping[str, Any]) -> Numbers:
    rows = []
    for row in beliefs["priors"]:
        moved = row["forecasts"][WEAR_OUTS]
        ways = (None if moved[way] is None else round(moved[way], 2) for way in ("half", "twice"))
        rows.append((belief_name(row["entry"]), round(row["own"], 3), round(moved["sensitivity"], 3), *ways))
    return Numbers("what-hangs-on-beliefs", BELIEF_COLUMNS, rows)
