"""The input or belief on which a choice hangs most, found by trying.

Each input is moved to both ends of what it may well be, and the draws are looked at from the least to the greatest of each
belief. Where the best action changes on the way there is a break-even; the one that lies nearest, as a share of the way from
what is believed to the end, is what the choice hangs on. Where nothing turns it, it leans most on what takes most of its
advantage away.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np

from wearfit.decisions.costs import Costs
from wearfit.decisions.inputs import YES_NO, Known, Values
from wearfit.decisions.money import amount, plain
from wearfit.errors import Refusal

Array = np.ndarray

STEPS: Final = 6  # halvings in the search for a break-even: to a sixty-fourth of the way
BINS: Final = 10  # equal shares of the draws, in order of a belief
LEAST: Final = 1e-300
NEXT_TO_NOTHING: Final = 1e-9  # of money
MOST_LOST: Final = 1e6


@dataclass(frozen=True)
class Lever:
    """Something believed, with a value in each draw.

    `name` as in "What such a tool lasts"; `words` says a value with its unit.
    """

    name: str
    values: Array  # (sample,)
    words: Callable[[float], str]


@dataclass(frozen=True)
class HangsOn:
    """How one input or belief bears on a choice. `break_even`, `nearness` and `instead` are None where it does not turn it."""

    name: str
    sentence: str
    value: float | None = None
    break_even: float | None = None
    nearness: float | None = None  # 0: at what is believed; 1: at the end of what is likely
    instead: str | None = None  # the action that is best beyond
    lost: float = 1.0  # share of the advantage that goes at the worse end

    def as_json(self) -> dict[str, Any]:
        return {f.name: getattr(self, f.name) for f in fields(self)}


def what_it_hangs_on(costs: Costs, levers: tuple[Lever, ...], values: Values, tried: Callable[[Values], Costs]) -> tuple[HangsOn, ...]:
    """Everything that was tried, what the choice hangs on most first.

    Parameters
    ----------
    costs : Costs
        With all draws, at the values.
    levers : tuple of Lever
        Beliefs, with the same draws.
    tried : callable
        Costs at other values, perhaps with fewer draws, and perhaps other actions.
    """
    if len(costs.actions) < 2:
        return (HangsOn("", "There is nothing to choose between."),)
    best = int(np.argmin(costs.mean))
    names = dict(zip(costs.known_as, costs.actions, strict=True))

    def saves(other: Values) -> tuple[float, str]:
        try:
            return _advantage(tried(other), costs.known_as[best], names)
        except Refusal:  # a value that cannot be, together with the other inputs, tells nothing
            return np.inf, ""

    start, _ = saves(values)
    found = [_of_input(known, values, costs.actions[best], start, saves) for known in values.known if known.ends[0] < known.ends[1]]
    found += [_of_lever(lever, costs, best) for lever in levers if np.ptp(lever.values) > 0]
    if not found:
        return (HangsOn("", f"Nothing was tried that could turn the choice from {costs.actions[best]}."),)
    return tuple(sorted(found, key=lambda f: (f.nearness is None, f.nearness or 0.0, -f.lost)))


def _of_input(known: Known, values: Values, best: str, start: float, saves: Callable[[Values], tuple[float, str]]) -> HangsOn:
    """How an input bears on the choice, by the end that is worse for the best action, which saves `start` now."""
    label, now, unit = known.input.label, known.value, known.input.unit

    def at(value: float) -> tuple[float, str]:
        return saves(values.with_value(known.input.name, value))

    ends = [(end, *at(end)) for end in known.ends if end != now]
    turned = []
    for end, gain, instead in ends:
        if gain < 0 < start:
            inner, outer, beyond = 0.0, 1.0, instead
            for _ in range(STEPS):
                middle = 0.5 * (inner + outer)
                gained, other = at(now + middle * (end - now))
                inner, outer, beyond = (middle, outer, beyond) if gained > 0 else (inner, middle, other)
            turned.append((0.5 * (inner + outer), end, beyond))
    if turned:
        way, end, instead = min(turned)
        if unit == YES_NO:
            sentence = f"{label}, now {plain(now, unit)}. If {plain(end, unit)}, it is cheaper to {instead}."
            return HangsOn(label, sentence, now, end, 1.0, instead)
        even = now + way * (end - now)
        side = "Above" if end > now else "Below"
        sentence = f"{label}, now {plain(now, unit)}. {side} about {plain(even, unit)} it is cheaper to {instead}."
        return HangsOn(label, sentence, now, even, way, instead)
    end, gain, _ = min(ends, key=lambda e: e[1])
    return _leans(label, now, start, best, f"{plain(end, unit)} instead of {plain(now, unit)}", gain)


def _advantage(costs: Costs, best: str, names: Mapping[str, str]) -> tuple[float, str]:
    """What the action of this key saves over the best of the others, below zero where one is better; and the name of that one."""
    mean, keys = costs.mean, costs.known_as
    if best not in keys:  # here it is no choice any more
        return -np.inf, costs.actions[int(np.argmin(mean))]
    at = keys.index(best)
    other = min((i for i in range(len(mean)) if i != at), key=lambda i: float(mean[i]), default=at)
    return float(mean[other] - mean[at]), names.get(keys[other], costs.actions[other])


def _of_lever(lever: Lever, costs: Costs, of: int) -> HangsOn:
    """How a belief bears on the choice: expected costs in tenths of the draws, in its order."""
    order = np.argsort(lever.values, kind="stable")
    weights = costs.weights[order]
    reached = (np.cumsum(weights) - 0.5 * weights) / weights.sum()
    tenth = np.minimum((BINS * reached).astype(np.int64), BINS - 1)
    sums = np.stack([np.bincount(tenth, weights=row[order] * weights, minlength=BINS) for row in costs.expected])
    means = sums / np.maximum(np.bincount(tenth, weights=weights, minlength=BINS), LEAST)
    others = [i for i in range(len(means)) if i != of]
    gain, instead = means[others].min(axis=0) - means[of], means[others].argmin(axis=0)
    middle = (np.arange(BINS) + 0.5) / BINS
    value = np.interp(middle, reached, lever.values[order])
    now, start = float(np.interp(0.5, middle, value)), float(np.interp(0.5, middle, gain))
    turned = []
    for way in (range(BINS // 2 - 1, -1, -1), range(BINS // 2, BINS)):
        before, place = start, 0.5
        for i in way:
            if gain[i] < 0 < before:
                even = place + before / (before - gain[i]) * (middle[i] - place)
                turned.append((abs(even - 0.5) / 0.5, even, costs.actions[others[instead[i]]]))
                break
            before, place = gain[i], middle[i]
    if turned:
        nearness, place, other = min(turned)
        even = float(np.interp(place, middle, value))
        side = "above" if place > 0.5 else "below"
        sentence = f"{lever.name}, likely {lever.words(now)}. If it is {side} about {lever.words(even)} it is cheaper to {other}."
        return HangsOn(lever.name, sentence, now, even, float(nearness), other)
    worst = int(np.argmin(gain))
    at = f"{lever.words(float(value[worst]))} instead of {lever.words(now)}"
    return _leans(lever.name, now, start, costs.actions[of], at, float(gain[worst]))


def _leans(name: str, now: float, start: float, best: str, at: str, gain: float) -> HangsOn:
    """Of what does not turn the choice."""
    lost = min((start - gain) / max(abs(start), NEXT_TO_NOTHING), MOST_LOST)
    sentence = (
        f"{name}, though nothing that was tried turns the choice: at {at}, to {best} saves {amount(gain)} against the next best, "
        f"not {amount(start)}."
    )
    return HangsOn(name, sentence, now, lost=lost)
