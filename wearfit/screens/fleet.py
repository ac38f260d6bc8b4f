"""Fleet: when each tool is done, and what needs a decision now."""

import datetime as dt
import math
import zlib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.screens import cached, intervals, shell, ways
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.unbroken import escape
from wearfit.store.overrides import Override
from wearfit.workflow.due import MEANINGS, Due, Kind, decisions_due, order_in_words, summary, wear_out_in_words
from wearfit.workflow.fleet_table import COLUMNS, fleet_table
from wearfit.workflow.noted_words import LOOK
from wearfit.workflow.overrides import day_said, overrides_in_force, said
from wearfit.workflow.wording import FLASH, HELD

PAGE_ROWS: Final = 25  # of the chart at once: a reader compares those, and 2,000 would be no chart
FIRST_DUE: Final = 8  # of each kind of decision that are shown before the rest is unfolded
YEARS: Final = (2, 5, 10)  # that the scale may span
FILTERS: Final = (("plant_id", "Plant"), ("service_class", "Class"), ("design_id", "Design"), ("resins", "Resin"))
LATE: Final = "9999"
SORTS: Final[Mapping[str, Callable[[Mapping[str, Any]], Any]]] = {
    "Order day": lambda t: (t["status"] != "held", t["status"] != "worn", t["order_by"] or LATE, -(t["gap_risk_if_ordered_today"] or 0.0)),
    "Likely wear-out": lambda t: t["wear_out_on"]["p50"] or LATE,
    "Early wear-out": lambda t: t["wear_out_on"]["p10"] or LATE,
    "Chance within 12 months": lambda t: -(t["p_within_12_months"] or 0.0),
    "Tool": lambda t: t["tool_id"],
}
GROUPS: Final[tuple[tuple[Kind, str], ...]] = (
    ("held", "Must not run"),
    ("look", LOOK),
    ("worn", "Worn out"),
    ("overdue", "Order now"),
    ("soon", "Order soon"),
    ("on_order", "Replacement on its way"),
)


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Fleet", _draw)


def _draw(answering: Answering) -> None:
    if not shell.ready(cached.fleet_job(answering), "Working out when each tool will wear out"):
        return
    tools: Sequence[Mapping[str, Any]] = cached.fleet(answering)["tools"]
    if not tools:
        st.write("No tool is live: every one of them is retired.")
        return
    overrides = overrides_in_force(answering.version.store)
    _decisions(decisions_due(tools, answering.as_of, answering.within.horizon_years), len(tools), overrides, answering)
    st.header("Every live tool", anchor="every-live-tool")
    _open_one(tools, answering)
    chosen = _filtered(tools)
    if not chosen:
        st.write("No live tool fits the filter. Take one of its choices away.")
        return
    _chart(chosen, len(tools), overrides, answering)
    says = "Live tools with their order day, early, likely and late wear-out day, chances and shots."
    in_numbers(Numbers("fleet", COLUMNS, fleet_table(chosen, overrides)), says, "fleet", workbook=True)


def _decisions(due: Sequence[Due], tools: int, overrides: Mapping[str, Override], answering: Answering) -> None:
    st.header("What needs a decision now", anchor="decisions")
    st.html(f'<p class="wf-lead">{escape(summary(due, tools))}</p>')
    for kind, title in GROUPS:
        found = [d for d in due if d.kind == kind]
        if not found:
            continue
        st.subheader(title, anchor=False)
        st.html(f'<p class="wf-standing">{escape(MEANINGS[kind])}</p>')
        _list(found[:FIRST_DUE], overrides, answering)
        if len(found) > FIRST_DUE:
            with st.expander(f"{len(found) - FIRST_DUE} more"):
                _list(found[FIRST_DUE:], overrides, answering)
        if kind == "held":
            shell.caution(HELD)
        elif kind == "look" and not any(d.kind == "held" for d in due):  # else it is said already
            shell.caution(FLASH)


def _list(due: Sequence[Due], overrides: Mapping[str, Override], answering: Answering) -> None:
    owners = {tool_id: f"owner: {said(override)}" for tool_id, override in overrides.items()}
    items = "".join(
        f"<li>{ways.way(shell.tool_address(d.tool_id, answering), d.tool_id, 'wf-tool')}"
        f'<span class="wf-where">{escape(d.where)}</span><strong>{escape(d.number)}</strong>'
        f'<span class="wf-meaning">{escape("; ".join(filter(None, (d.more, owners.get(d.tool_id)))))}</span></li>'
        for d in due
    )
    st.html(f'<ul class="wf-due">{items}</ul>')


def _open_one(tools: Sequence[Mapping[str, Any]], answering: Answering) -> None:
    chosen = st.selectbox(
        "Open a tool's own page", sorted(t["tool_id"] for t in tools), index=None, placeholder="Type or choose", key="fleet_open", width=340
    )
    if chosen is not None:
        ways.go(shell.tool_address(chosen, answering))


def _filtered(tools: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Those that every filter lets through, in the order asked for."""
    chosen = list(tools)
    with st.container(horizontal=True, gap="medium", key="fleet_filters"):
        for field, label in FILTERS:
            options = sorted({value for tool in tools for value in _values(tool, field)})
            picked = set(st.multiselect(label, options, key=label.lower(), bind="query-params", placeholder="all"))
            chosen = [tool for tool in chosen if not picked or picked & _values(tool, field)]
        order = st.selectbox("Sort by", list(SORTS), key="sort", bind="query-params")
    return sorted(chosen, key=lambda tool: (SORTS[order or next(iter(SORTS))](tool), tool["tool_id"]))


def _values(tool: Mapping[str, Any], field: str) -> set[str]:
    return set(tool["conditions"]["resins"]) if field == "resins" else {tool[field]} - {None}


def _chart(chosen: Sequence[Mapping[str, Any]], of: int, overrides: Mapping[str, Override], answering: Answering) -> None:
    horizon = answering.within.horizon_years
    spans = [years for years in YEARS if years < horizon] + [math.ceil(horizon)]
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium"):
        years = st.segmented_control("Years ahead", spans, default=min(5, spans[-1]), required=True, key="years", bind="query-params")
    pages = math.ceil(len(chosen) / PAGE_ROWS)
    # Another selection or order is another row of pages, so that it begins with its first.
    key = f"fleet_page_{zlib.crc32(' '.join(tool['tool_id'] for tool in chosen).encode())}"
    which = st.session_state.get(key, 1) if pages > 1 else 1
    first = (which - 1) * PAGE_ROWS
    shown = chosen[first : first + PAGE_ROWS]
    filtered = "" if len(chosen) == of else f" that fit the filter, of {of:,} live ones"
    st.html(f'<p class="wf-standing">Tools {first + 1:,} to {first + len(shown):,} of {len(chosen):,}{filtered}.</p>')
    span = years or spans[-1]
    rows = [_interval(tool, overrides.get(tool["tool_id"]), answering, span) for tool in shown]
    intervals.legend(own=any(row.own is not None for row in rows))
    intervals.draw(rows, _ticks(answering.as_of, span), "When each live tool wears out", ("Tool", "When it wears out", "In words"), "fleet")
    if pages > 1:
        st.pagination(pages, key=key)


def _interval(tool: Mapping[str, Any], override: Override | None, answering: Answering, years: int) -> intervals.Interval:
    horizon, day = answering.within.horizon_years, answering.as_of
    known = tool["p_within_12_months"] is not None and tool["status"] != "worn"
    # A day past the horizon is not named; it lies past any scale.
    ends = [_place(tool["wear_out_on"][q], day, years) if tool["wear_out_on"][q] else math.inf for q in ("p10", "p50", "p90")]
    own = None if override is None else day_said(override, tool["conditions"]["shots_per_month"])
    more = wear_out_in_words(tool, horizon, day)
    if override is not None:
        more += f". Owner: {said(override)}"
    return intervals.Interval(
        name=tool["tool_id"],
        under=", ".join(filter(None, (tool["design_id"], tool["plant_id"]))),
        said=order_in_words(tool, horizon, day),
        more=more,
        low=ends[0] if known else None,
        likely=ends[1] if known else None,
        high=(None if math.isinf(ends[2]) else ends[2]) if known else None,
        flag=_place(tool["order_by"], day, years) if known and tool["order_by"] and not tool["replacement_due_on"] else None,
        own=None if own is None else _place(own.isoformat(), day, years),
        loud=tool["status"] in ("held", "worn") or (tool["overdue"] and not tool["replacement_due_on"]),
        link=shell.tool_address(tool["tool_id"], answering),
    )


def _place(day: str, first: dt.date, years: int) -> float:
    return (dt.date.fromisoformat(day) - first).days / (365.25 * years)


def _ticks(first: dt.date, years: int) -> list[intervals.Tick]:
    """The starts of years, or of quarters where the scale is short."""
    months = [(first.year + year, month) for year in range(years + 1) for month in ((1, 4, 7, 10) if years <= 2 else (1,))]
    found = []
    for year, month in months:
        at = _place(dt.date(year, month, 1).isoformat(), first, years)
        if 0.0 <= at <= 1.0:
            found.append(intervals.Tick(at, str(year) if month == 1 else f"{dt.date(year, month, 1):%b}"))
    return found


if __name__ == "__main__":
    show()
