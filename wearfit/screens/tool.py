"""Tool: what one tool has been through, and what is left of it."""

import datetime as dt
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any, Final

import altair as alt
import streamlit as st

from wearfit.forecasts.remaining_life import RemainingLife
from wearfit.screens import cached, intervals, look, shell, states
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, downloads, figure, in_numbers, table
from wearfit.screens.owner import owner_section
from wearfit.screens.readings import readings_section
from wearfit.workflow.due import order_in_words, wear_out_in_words, wear_out_months
from wearfit.workflow.tool_history import Life, Source, ToolHistory
from wearfit.workflow.wording import HELD, UNKNOWN, day_in_words, frequency, month_in_words, shots, spread

NOTHING_LEFT: Final = 0.02  # chance under which a curve is not drawn on
LEAST_POINTS: Final = 25  # of the curve over months that are drawn all the same


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Tool", _draw, st.query_params.get("tool"))


def _draw(answering: Answering) -> None:
    st.page_link(shell.FLEET_PAGE, label="← Back to the fleet")
    if not shell.ready(cached.fleet_job(answering), "Working out when each tool will wear out"):
        return
    tools = {tool["tool_id"]: tool for tool in cached.fleet(answering)["tools"]}
    asked = st.query_params.get("tool")
    if asked is None or asked not in tools:
        _choose(asked, sorted(tools))
        return
    tool, history = tools[asked], cached.tool_history(answering, asked)
    _answer(tool, answering)
    owner_section(tool, answering)
    _remaining(cached.remaining_life(answering, asked), tool, answering)
    _moved(history)
    st.caption(f"What follows is as of {day_in_words(cached.own_day(answering))}, the day of the calibration.")
    if not history.same_records:
        states.note(
            "Records came since",
            "The store holds other records by now than the calibration rests on, and what follows shows them.",
            "Run `wearfit recalibrate`, so that the forecast knows them.",
        )
    _lives(history)
    _sources(history)
    readings_section(history)
    _runs(history)
    st.header("On the list of tools", anchor=False)
    _facts(history.facts)


def _choose(asked: str | None, tools: Sequence[str]) -> None:
    if asked is not None:
        states.note("No such live tool", f"{asked} is not among the live tools.", "It may be retired, or written otherwise.")
    chosen = st.selectbox("Tool", tools, index=None, placeholder="Type or choose", key="tool_choose", width=340)
    if chosen is not None:
        st.switch_page(shell.TOOL_PAGE, query_params={"tool": chosen})


def _answer(tool: Mapping[str, Any], answering: Answering) -> None:
    """What the forecast says, dates and odds first."""
    horizon = answering.within.horizon_years
    conditions = tool["conditions"]
    what = ", ".join(
        filter(None, (tool["design_id"], f"class {tool['service_class']}", tool["plant_id"], tool["status"].replace("_", " ")))
    )
    st.html(f'<p class="wf-lead">{escape(what)}</p>')
    if tool["status"] == "held":
        states.note("STOP", "This tool is held and must not run until it is released.")
        shell.caution(HELD)
    likely, most = wear_out_months(tool, horizon, answering.as_of) or (UNKNOWN, UNKNOWN)
    facts = (
        ("To do", order_in_words(tool, horizon)),
        ("Likely worn out", likely),
        ("8 in 10 such tools", most),
        ("Worn out within 12 months", frequency(tool["p_within_12_months"])),
        ("Shots left", spread(tool["remaining_shots"])),
        ("Shots this life", spread(tool["shots_this_life"])),
        ("Gap if ordered today", frequency(tool["gap_risk_if_ordered_today"])),
    )
    st.html(
        f'<dl class="wf-facts">{"".join(f"<div><dt>{escape(n)}</dt><dd>{escape(v)}</dd></div>" for n, v in facts if v != UNKNOWN)}</dl>'
    )
    if tool["problem"]:
        states.note("To know", tool["problem"])
    elif conditions["shots_per_month"]:
        at = f" at {conditions['plant_id']}" if conditions["plant_id"] else ""
        resins = f" in {', '.join(conditions['resins'])}" if conditions["resins"] else ""
        use = f"{shots(conditions['shots_per_month'])} shots a month{at}{resins}"
        st.caption(f"Taken to go on with {use}, as planned, stated or seen in its last 24 months.")


def _facts(facts: Sequence[tuple[str, str]]) -> None:
    items = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in facts if value != UNKNOWN)
    st.html(f'<dl class="wf-facts">{items}</dl>')


def _remaining(left: RemainingLife, tool: Mapping[str, Any], answering: Answering) -> None:
    if not left.known or tool["status"] == "worn":
        return
    st.header("What is left", anchor=False)
    by = st.segmented_control("Along", ("time", "shots"), default="time", required=True, key="along", bind="query-params")
    y = alt.Y(
        "chance:Q",
        title=None,
        scale=alt.Scale(domain=[0, 1]),
        axis=alt.Axis(values=[0, 0.2, 0.4, 0.6, 0.8, 1], labelExpr="round(datum.value * 10) + ' in 10'"),
    )
    kinds = ["not worn out", "not worn out, nor stopped by sudden damage"]
    if by == "shots":
        rows: list[dict[str, Any]] = [
            {"at": float(n), "chance": float(p), "kind": kinds[0]} for n, p in zip(left.shots, left.good_by_shots, strict=True)
        ]
        x: Any = alt.X("at:Q", title="shots from now on", axis=alt.Axis(format=",.0f", tickCount=5))
        numbers = Numbers(
            f"remaining-shots-{tool['tool_id']}",
            ("Shots from now on", "Chance that it is not worn out"),
            [(round(n), round(float(p), 4)) for n, p in zip(left.shots, left.good_by_shots, strict=True)],
        )
    else:
        days = [answering.as_of + dt.timedelta(days=float(d)) for d in left.days]
        shown = days[: max(LEAST_POINTS, int((left.good > NOTHING_LEFT).sum()) + 1)]
        rows = [
            {"at": day.isoformat(), "chance": float(p), "kind": kind}
            for kind, curve in zip(kinds, (left.good, left.running), strict=True)
            for day, p in zip(shown, curve, strict=False)
        ]
        x = alt.X("at:T", title=None, axis=alt.Axis(format="%Y", tickCount="year"))
        numbers = Numbers(
            f"remaining-life-{tool['tool_id']}",
            ("Day", "Chance that it is not worn out", "Chance that it is neither worn out nor stopped by sudden damage"),
            [(day.isoformat(), round(float(g), 4), round(float(r), 4)) for day, g, r in zip(days, left.good, left.running, strict=True)],
        )
    shared: dict[str, Any] = {"title": None, "sort": kinds, "legend": alt.Legend(symbolSize=500)}
    drawn = (
        alt.Chart(alt.InlineData(values=rows))
        .mark_line(strokeWidth=2.5)
        .encode(
            x=x,
            y=y,
            color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[look.INK, look.TEAL]), **shared),
            strokeDash=alt.StrokeDash("kind:N", scale=alt.Scale(domain=kinds, range=[[1, 0], [6, 4]]), **shared),
            tooltip=[alt.Tooltip("chance:Q", format=".2f", title="chance"), alt.Tooltip("kind:N", title=" ")],
        )
        .properties(height=280)
    )
    words = wear_out_in_words(tool, answering.within.horizon_years, answering.as_of)
    says = f"The chance that {tool['tool_id']} is still good, falling from 10 in 10. It wears out: {words}."
    figure(drawn, says, numbers, f"left_{by}")


def _moved(history: ToolHistory) -> None:
    st.header("What moved the forecast", anchor=False)
    if not history.moved:
        st.write("Nothing beside its shots, plants and resins moved what is left of its life by 5 % or more.")
        return
    for moved in history.moved:
        change = f"{100 * abs(moved.factor - 1):.0f} % {'more' if moved.factor > 1 else 'less'}"
        st.write(f"{moved.what[0].upper()}{moved.what[1:]}: the likely life left is **{change}** with it than without.")


def _lives(history: ToolHistory) -> None:
    st.header("Its lives", anchor=False)
    furthest = max([life.wear["p90"] or 0.0 for life in history.lives if life.wear is not None], default=0.0)
    step = intervals.round_step(furthest / 4.0)
    ticks = [intervals.Tick(n * step / furthest, f"{n * step:,.0f}") for n in range(5) if furthest and n * step <= furthest]
    rows = [_life(life, furthest) for life in history.lives]
    intervals.draw(rows, ticks, f"The lives of {history.tool_id}", ("Life", "Wear at its end", "How it ended"), "lives")
    said = (
        "Drawn is the wear on the clock at the end of each life, in reference shots: shots at the average plant, in an unfilled resin that "
        "does not corrode. What a refurbishment left of the wear before is part of it."
    )
    if any(life.reckoned for life in history.lives):
        said += " Shots made before its records are reckoned: they are part of the wear, not of the shots."
    st.caption(said)
    columns = (
        "Life",
        "Began",
        "Ended",
        "How it ended",
        "Shots",
        "Wear at its end, low",
        "Wear at its end, likely",
        "Wear at its end, high",
    )
    numbers = [
        (
            life.number,
            life.began,
            life.ended,
            life.ending,
            None if life.shots is None else round(life.shots),
            *((None,) * 3 if life.wear is None else tuple(_whole(life.wear[q]) for q in ("p10", "p50", "p90"))),
        )
        for life in history.lives
    ]
    in_numbers(Numbers(f"lives-{history.tool_id}", columns, numbers), f"The lives of {history.tool_id}.", "lives")


def _life(life: Life, furthest: float) -> intervals.Interval:
    low, likely, high = (None,) * 3 if life.wear is None else ((life.wear[q] or 0.0) / furthest for q in ("p10", "p50", "p90"))
    began, ended = (None if day is None else month_in_words(day) for day in (life.began, life.ended))
    made = "shots not told" if life.shots is None else f"{shots(life.shots)} shots"
    more = made if life.wear is None else f"{made}; wear {spread(life.wear)}"
    return intervals.Interval(f"Life {life.number}", f"{began} to {ended or 'now'}", life.ending, more, low, likely, high)


def _sources(history: ToolHistory) -> None:
    if not history.by_plant:
        return
    st.header("Where its wear came from", anchor=False)
    st.write("Of the wear that is on its clock now:")
    ticks = [intervals.Tick(share, f"{100 * share:.0f} %") for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    for title, sources, key in (("Plant", history.by_plant, "plants"), ("Resin", history.by_resin, "resins")):
        says = f"Share of its wear by {title.lower()}"
        intervals.draw([_source(source) for source in sources], ticks, says, (title, "Share of its wear", "In words"), f"wear_{key}")
    columns = ("By", "Name", "Shots", "Wear, low", "Wear, likely", "Wear, high", "Share, low", "Share, likely", "Share, high")
    rows = [
        (by, s.name, round(s.shots), *(_whole(s.wear[q]) for q in ("p10", "p50", "p90")), *(s.share[q] for q in ("p10", "p50", "p90")))
        for by, sources in (("plant", history.by_plant), ("resin", history.by_resin))
        for s in sources
    ]
    in_numbers(Numbers(f"wear-{history.tool_id}", columns, rows), "Where its wear came from.", "wear")


def _source(source: Source) -> intervals.Interval:
    low, likely, high = (source.share[q] or 0.0 for q in ("p10", "p50", "p90"))
    made = f"{shots(source.shots)} shots" if source.shots else ""
    wear = f"wear {spread(source.wear)}"
    return intervals.Interval(source.name, made, f"about {100 * likely:.0f} %", wear, low, likely, high)


def _runs(history: ToolHistory) -> None:
    st.header("Runs, events and notes", anchor=False)
    events = Numbers(
        f"events-{history.tool_id}",
        ("Day", "Event", "Details", "Note"),
        [(e.day, e.event, e.details, e.note) for e in reversed(history.events)],
    )
    runs = Numbers(
        f"runs-{history.tool_id}",
        ("From", "To", "Plant", "Resin", "Shots", "Set-ups"),
        [(r.started_on, r.ended_on, r.plant_id, r.resin_id, round(r.shots), r.setups) for r in reversed(history.runs)],
    )
    for numbers, key, says in ((events, "events", "Its events, newest first."), (runs, "runs", "Its runs, newest first.")):
        st.subheader(f"{key.capitalize()} ({len(numbers.rows):,})", anchor=False)
        if numbers.rows:
            table(numbers, says, key)
            downloads(numbers, key)


def _whole(number: float | None) -> int | None:
    return None if number is None else round(number)


if __name__ == "__main__":
    show()
