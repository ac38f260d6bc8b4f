"""The parts of a plan, drawn: orders, copies, renewals by design, spend by quarter, months at risk of shortage."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.decisions.money import amount
from wearfit.screens import intervals, shell
from wearfit.screens.cached import Answering
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.unbroken import escape
from wearfit.screens.ways import way
from wearfit.workflow import plan_in_words as words
from wearfit.workflow.wording import month_in_words

FIRST_SHOWN: Final = 8  # orders before the rest is unfolded
MOST_SHOWN: Final = 200  # in a list; the table has all
PAGE_ROWS: Final = 25  # designs of the chart at once
MOST_MONTHS: Final = 36  # drawn; the table has all
STEPS: Final = 4  # between marks of a scale of money, so that they do not touch on a narrow page


def orders(document: Mapping[str, Any], answering: Answering) -> None:
    """Orders that fall due, those whose day is past first; and all of them as a calendar in numbers."""
    found: Sequence[Mapping[str, Any]] = document["orders"]
    overdue = sorted((o for o in found if o["overdue"]), key=lambda o: -o["p_late_if_ordered_today"])
    for past, of in ((True, overdue), (False, [o for o in found if not o["overdue"]])):
        if not of:
            continue
        head, means = words.ORDERS[past]
        st.subheader(f"{head} ({len(of):,})", anchor=False)
        st.html(f'<p class="wf-standing">{escape(means)}</p>')
        _list(of[:FIRST_SHOWN], answering)
        if len(of) > FIRST_SHOWN:
            with st.expander(f"{len(of) - FIRST_SHOWN:,} more"):
                _list(of[FIRST_SHOWN:MOST_SHOWN], answering)
                if len(of) > MOST_SHOWN:
                    st.caption(f"{len(of) - MOST_SHOWN:,} more are in the table.")
    if found:
        columns = (
            "Order by", "Order day past", "Tool", "Design", "1 in 10 such tools has ended by", "Half by", "Lead time (weeks)",
            "Chance that it comes too late if ordered today", "Why",
        )  # fmt: skip
        rows = [
            (
                o["order_by"], "yes" if o["overdue"] else "no", o["tool_id"], o["design_id"], o["ends_early"], o["ends_likely"],
                o["lead_time_weeks"], o["p_late_if_ordered_today"], o["reason"],
            )
            for o in found
        ]  # fmt: skip
        in_numbers(Numbers("plan-orders", columns, rows), "The order calendar, the soonest first.", "orders", workbook=True)


def _list(of: Sequence[Mapping[str, Any]], answering: Answering) -> None:
    def item(order: Mapping[str, Any]) -> str:
        by, why = words.order_words(order)
        link = way(shell.tool_address(order["tool_id"], answering), order["tool_id"], "wf-tool")
        return (
            f'<li>{link}<span class="wf-where">'
            f'{escape(order["design_id"])}</span><strong>{escape(by)}</strong><span class="wf-meaning">{escape(why)}</span></li>'
        )

    st.html(f'<ul class="wf-due">{"".join(item(order) for order in of)}</ul>')


def copies(document: Mapping[str, Any]) -> None:
    """Designs that lack a copy."""
    st.header("Copies advised", anchor=False)
    advised = document["copies_advised"]
    if not advised:
        st.write("None: no design lacks capacity, and none loses more by short weeks than a further tool would cost.")
        return
    items = "".join(
        f'<li><span class="wf-tool">{escape(c["design_id"])}</span><span class="wf-where">{escape(f"now {c['copies_now']}")}</span>'
        f'<strong>{c["copies"]} copies</strong><span class="wf-meaning">{escape(c["why"])}</span></li>'
        for c in advised
    )
    st.html(f'<ul class="wf-due">{items}</ul>')
    rows = [(c["design_id"], c["copies_now"], c["copies"], c["why"]) for c in advised]
    in_numbers(Numbers("plan-copies", ("Design", "Copies now", "Copies advised", "Why"), rows), "Designs that lack a copy.", "copies")


def renewals(document: Mapping[str, Any]) -> None:
    """Renewals of each design, the most first."""
    st.header("Renewals by design", anchor=False)
    designs = sorted(document["designs"], key=lambda d: (-d["expected_renewals"], d["design_id"]))
    pages = -(-len(designs) // PAGE_ROWS)
    which = st.session_state.get("designs_page", 1) if pages > 1 else 1
    first = (min(which, pages) - 1) * PAGE_ROWS
    scale = intervals.scale_over([0.0, 1.0, *(d["renewals"]["p95"] for d in designs)], lambda n, step: f"{n:.0f}" if n % 1 == 0 else "", 6)
    rows = []
    for d in designs[first : first + PAGE_ROWS]:
        said, more = words.renewals_words(d)
        tools = f"{len(d['tools'])} {'tool' if len(d['tools']) == 1 else 'tools'}"
        low, high, expected = (scale.at(n) for n in (d["renewals"]["p10"], d["renewals"]["p90"], d["expected_renewals"]))
        rows.append(intervals.Interval(d["design_id"], tools, said, more, low, expected, high))
    intervals.draw(rows, scale.ticks, "Renewals by design", ("Design", "Renewals in these months", "In words"), "renewals")
    if pages > 1:
        st.pagination(pages, key="designs_page")
    st.caption(
        "The line holds 8 in 10 futures, the notch is the number to expect. New cavity sets, refurbishments and new tools count alike."
    )
    most = max(len(d["p_renewals"]) for d in designs)
    columns = (
        "Design", "Tools", "Renewals to expect", "Of them refurbished", "1 in 10 below", "Likely", "1 in 10 above", "Short in some month",
        "Shots asked", "Shots short", *(f"Share of futures with {n}" for n in range(most)),
    )  # fmt: skip
    numbers = [
        (
            d["design_id"], ", ".join(d["tools"]), d["expected_renewals"], d["expected_refurbishments"],
            *(d["renewals"][q] for q in ("p10", "p50", "p90")), d["p_shortage"], round(d["shots_asked"]), round(d["shots_short"]),
            *d["p_renewals"], *[0.0] * (most - len(d["p_renewals"])),
        )
        for d in designs
    ]  # fmt: skip
    in_numbers(Numbers("plan-designs", columns, numbers), "Renewals of each design.", "designs", workbook=True)


def spend(document: Mapping[str, Any]) -> None:
    """Spend by quarter, with the tools behind each."""
    st.header("Spend by quarter", anchor=False)
    st.html(f'<p class="wf-lead">{escape(words.spend_sentence(document))}</p>')
    quarters: Sequence[Mapping[str, Any]] = document["spend"]
    scale = intervals.scale_over([0.0, *(q["range_95"][1] for q in quarters)], lambda money, _: amount(money), STEPS)
    rows = []
    for q in quarters:
        said, more = words.quarter_words(q)
        low, high, least, most = (scale.at(end) for end in (*q["range_80"], *q["range_95"]))
        behind = words.some(q["tools"], 2) or "no tool by itself"
        row = intervals.Interval(
            q["quarter"].replace("-", " "), behind, said, more, low, scale.at(q["cost"]["p50"]), high, outer=(least, most)
        )
        rows.append(row)
    heads = ("Quarter, and the costliest tools behind it", "Spend on renewals, when it is paid", "In words")
    intervals.draw(rows, scale.ticks, "Spend by quarter", heads, "spend")
    st.caption("The thick line holds 8 in 10 futures, the thin one 95 in 100, the notch is the middle: as many above as below.")
    columns = (
        "Quarter", "Spend, likely", "Spend to expect", "8 in 10 from", "8 in 10 to", "95 in 100 from", "95 in 100 to",
        "Tools behind it, the costliest first",
    )  # fmt: skip
    numbers = [(q["quarter"], q["cost"]["p50"], q["expected"], *q["range_80"], *q["range_95"], ", ".join(q["tools"])) for q in quarters]
    in_numbers(Numbers("plan-spend", columns, numbers), "Spend on renewals by quarter.", "spend", workbook=True)


def shortage(document: Mapping[str, Any]) -> None:
    """Months at risk of shortage."""
    st.header("Months at risk of shortage", anchor=False)
    months: Sequence[Mapping[str, Any]] = document["shortage"]
    worst = max(months, key=lambda m: m["p"])
    said = words.short_words(worst)[0]
    st.html(f'<p class="wf-lead">{escape(f"{month_in_words(worst['month'])} is most at risk: {said} that some design is short.")}</p>')
    scale = intervals.scale_over([0.0, worst["p"]], lambda p, _: f"{100 * p:g} %")
    rows = []
    for m in months[:MOST_MONTHS]:
        said, more = words.short_words(m)
        rows.append(intervals.Interval(month_in_words(m["month"]), "", said, more, 0.0, scale.at(m["p"]), scale.at(m["p"])))
    intervals.draw(rows, scale.ticks, "Months at risk of shortage", ("Month", "Chance that some design is short", "In words"), "shortage")
    left = f" {len(months) - MOST_MONTHS} more months are in the table." if len(months) > MOST_MONTHS else ""
    st.caption(f"The notch is the chance that at least one design is short in that month.{left}")
    columns = ("Month", "Chance that some design is short", "Shots not made (share)", "Designs at risk")
    numbers = [(m["month"], m["p"], m["share_short"], ", ".join(d["design_id"] for d in m["designs"])) for m in months]
    in_numbers(Numbers("plan-shortage", columns, numbers), "Months at risk of shortage.", "shortage", workbook=True)
