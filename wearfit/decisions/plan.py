"""The plan: what the fleet asks for over the months ahead. Renewals, spend by quarter, shortages, orders, copies.

Everything is counted within a draw, over all tools, before quantiles are taken, so that what the tools share widens the sums.
"""

import datetime as dt
import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.decisions.inputs import Values
from wearfit.decisions.plan_terms import Refurbish, prices_of, shots_per_month, terms_of
from wearfit.decisions.renewal_walk import REFURBISHED, Walked, walk
from wearfit.forecasts.fleet_ahead import DAYS_PER_MONTH, FleetAhead, FleetBlock
from wearfit.forecasts.quantiles import last_within, weighted_quantiles

Array = np.ndarray

THREADS: Final = 2
NEVER: Final = 1e9  # [day] further than any horizon


@dataclass(frozen=True)
class Plan:
    """What comes of a plan. Money is not discounted: a budget counts it when it is paid."""

    ahead: FleetAhead
    designs: tuple[str, ...]  # in order of their names
    copies: tuple[tuple[int, ...], ...]  # of each design, places of its tools
    quarters: tuple[str, ...]
    renewals: Array  # (sample, design) within the months
    cost: Array  # (sample, quarter)
    tool_cost: Array  # (quarter, tool) expected
    tool_renews: Array  # (quarter, tool) expected renewals
    refurbished: Array  # (design,) expected, of the renewals
    asked: Array  # (month, design) shots, mean over draws
    made: Array  # (month, design)
    p_short: Array  # (month, design)
    p_any_short: Array  # (month,) of any design
    p_design_short: Array  # (design,) in any month
    months_short: Array  # (design,) expected, in whole months
    order_in: Array  # (tool,) last day on which an order keeps the accepted chance of coming too late; below 0 where there is none
    late: Array  # (tool,) chance that an order of today comes too late
    ends_in: Array  # (2, tool) days by which 1 in 10 and 5 in 10 lives under way have ended
    shots_per_month: Array  # (tool,) capacity
    price: Array  # (tool,)


@dataclass(frozen=True)
class _Part:
    """What a block adds."""

    block: FleetBlock
    walked: Walked


def plan_of(ahead: FleetAhead, values: Values, policy: Refurbish, tolerance: float) -> Plan:
    """Walk the fleet through the months and count.

    Parameters
    ----------
    ahead : FleetAhead
    values : Values
        Of `plan_terms.INPUTS`.
    policy : str
        Whether a worn surface is refurbished before it is cut anew: never, once, or when it pays.
    tolerance : float
        Accepted chance of no usable tool before an ordered replacement arrives.
    """

    def part(block: FleetBlock) -> _Part:
        return _Part(block, walk(block, terms_of(ahead, block, values, policy)))

    return _count(ahead, values, tolerance, _in_order(part, ahead.blocks()))


def _in_order(part: Any, blocks: Iterable[FleetBlock]) -> Iterable[_Part]:
    """Parts in the order of the blocks, a few at a time: which thread is first changes nothing, and memory is bounded."""
    threads = min(THREADS, os.cpu_count() or 1)
    with ThreadPoolExecutor(threads) as pool:
        waiting = []
        for block in blocks:
            waiting.append(pool.submit(part, block))
            if len(waiting) > threads:
                yield waiting.pop(0).result()
        for rest in waiting:
            yield rest.result()


def _count(ahead: FleetAhead, values: Values, tolerance: float, parts: Iterable[_Part]) -> Plan:
    copies: dict[str, list[int]] = {name: [] for name in sorted(set(ahead.design_id))}
    for t, name in enumerate(ahead.design_id):
        copies[name].append(t)
    designs, own_place = tuple(copies), {name: i for i, name in enumerate(copies)}
    design = np.array([own_place[name] for name in ahead.design_id], dtype=np.int64)
    starts = ahead.month_starts
    labels = [quarter_of(day) for day in starts[: ahead.months]]
    quarters = tuple(dict.fromkeys(labels))
    quarter = np.array([quarters.index(label) for label in labels])
    samples, months, n_tools = ahead.samples, ahead.months, len(ahead.tool_id)
    renewals, cost = np.zeros((samples, len(designs))), np.zeros((samples, len(quarters)))
    tool_cost, tool_renews = np.zeros((len(quarters), n_tools)), np.zeros((len(quarters), n_tools))
    refurbished, months_short, p_design = (np.zeros(len(designs)) for _ in range(3))
    asked, made, p_short = (np.zeros((months, len(designs))) for _ in range(3))
    any_short = np.zeros((months, samples), dtype=bool)
    order_in, late, ends_in = np.empty(n_tools), np.empty(n_tools), np.empty((2, n_tools))
    one = np.ones((samples, 1))
    lengths = _lengths(ahead)
    to_ends = np.array([(day - starts[0]).days for day in (*starts[1:], ahead.ends)])
    for part in parts:
        block, walked = part.block, part.walked
        ends = np.minimum(_days(walked.first_end, to_ends, lengths), NEVER)
        margin = ends - block.lead_days
        order_in[block.place], late[block.place] = last_within(margin, one, tolerance), (margin < 0).mean(axis=0)
        ends_in[:, block.place] = weighted_quantiles(ends, one, (0.1, 0.5))
        own = design[block.place[[int(np.argmax(block.group == g)) for g in range(block.group[-1] + 1)]]]
        asked[:, own], made[:, own] = walked.asked[:months], walked.made[:months]
        short = walked.short[:months] > values["slack"]
        p_short[:, own], p_design[own] = short.mean(axis=1), short.any(axis=0).mean(axis=0)
        months_short[own] = (walked.short[:months].mean(axis=1) * lengths[:months, None]).sum(axis=0)
        any_short |= short.any(axis=2)
        within = walked.month < months
        month, sample, tool = walked.month[within], walked.sample[within], block.place[walked.tool[within]]
        when, paid = quarter[month], walked.cost[within]
        np.add.at(renewals, (sample, design[tool]), 1.0)
        np.add.at(cost, (sample, when), paid)
        np.add.at(tool_cost, (when, tool), paid / samples)
        np.add.at(tool_renews, (when, tool), 1.0 / samples)
        np.add.at(refurbished, design[tool], (walked.kind[within] == REFURBISHED) / samples)
    return Plan(
        ahead=ahead,
        designs=designs,
        copies=tuple(tuple(places) for places in copies.values()),
        quarters=quarters,
        renewals=renewals,
        cost=cost,
        tool_cost=tool_cost,
        tool_renews=tool_renews,
        refurbished=refurbished,
        asked=asked,
        made=made,
        p_short=p_short,
        p_any_short=any_short.mean(axis=1),
        p_design_short=p_design,
        months_short=months_short,
        order_in=order_in,
        late=late,
        ends_in=ends_in,
        shots_per_month=shots_per_month(ahead, values),
        price=prices_of(ahead, values),
    )


def quarter_of(day: dt.date) -> str:
    """The calendar quarter of a day: "2026-Q3"."""
    return f"{day.year}-Q{(day.month + 2) // 3}"


def _lengths(ahead: FleetAhead) -> Array:
    """Length of each month walked, the first as far as it lies ahead, shape (month,). [month]"""
    first = ahead.as_of + dt.timedelta(days=1)
    whole = (first.replace(day=1) + dt.timedelta(days=32)).replace(day=1) - first.replace(day=1)
    left = (first.replace(day=1) + dt.timedelta(days=32)).replace(day=1) - first
    return np.array([left / whole] + [1.0] * (len(ahead.month_starts) - 1))


def _days(ends: Array, days: Array, lengths: Array) -> Array:
    """Days from the end of the as-of day to a time in months ahead. `days` are those to the ends of the months walked."""
    to_end = np.append(0.0, np.cumsum(lengths))
    within = np.interp(ends, to_end, np.append(0.0, days))
    return np.asarray(within + np.maximum(ends - to_end[-1], 0.0) * DAYS_PER_MONTH)
