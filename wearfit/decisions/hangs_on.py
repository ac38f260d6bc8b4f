"""The input or belief on which a choice hangs most, found by trying.

Each input is moved to both ends of what it may well be, and the draws are looked at from the least to the greatest of each
belief. Where the best action changes on the way there is a break-even; the one that lies nearest, as a share of the way from
what is believed to the end, is what the choice hangs on. Where nothing turns it, it leans most on what takes most of its
advantage away.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wearfit.decisions.costs import Costs
from wearfit.decisions.inputs import Known, Values
from wearfit.decisions.money import amount, plain
from wearfit.errors import Refusal

Array = np.ndarray

STEPS: Final = 6  # halvings in the search for a break-even: to a sixty-fourth of the way
BINS: Final = 10  # equal shares of the draws, in order of a belief
EVEN: Final = 1e-9  # share of the cost below which an advantage is none


@dataclass(frozen=True)
class Lever:
    """Something believed, with a value in each draw.

    `name` as in "how long such tools last"; `words` says a value with its unit.
    """

    name: str
    values: Array  # (sample,)
    words: Callable[[float], str]


@dataclass(frozen=True)
class HangsOn:
    """What a choice hangs on. `break_even` is None where nothing tried turns it, `nearness` then too."""

    name: str
    sentence: str
    value: float | None
    break_even: float | None
    nearness: float | None  # 0: at what is believed; 1: at the end of what is likely
    instead: str | None  # the action that is best beyond

    def as_json(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("name", "value", "break_even", "nearness", "instead")}


def what_it_hangs_on(costs: Costs, levers: tuple[Lever, ...], values: Values, tried: Callable[[Values], Costs]) -> HangsOn:
    """Find it.

    Parameters
    ----------
    costs : Costs
        With all draws, at the values.
    levers : tuple of Lever
        Beliefs, with the same draws.
    tried : callable
        Costs at other values, perhaps with fewer draws; the same actions in the same order, or others.
    """
    if len(costs.actions) < 2:
        return HangsOn("", "There is nothing to choose between.", None, None, None, None)
    best = costs.actions[int(np.argmin(costs.mean))]
    found = [_of_input(known, values, best, tried) for known in values.known if known.ends[0] < known.ends[1]]
    found += [_of_lever(lever, costs, best) for lever in levers if np.ptp(lever.values) > 0]
    turning = [f for f in found if f.nearness is not None]
    if turning:
        return min(turning, key=lambda f: f.nearness or 0.0).hangs
    if not found:
        return HangsOn("", f"Nothing that was tried turns the choice from {best}.", None, None, None, None)
    return max(found, key=lambda f: f.lost).hangs


@dataclass(frozen=True)
class _Found:
    hangs: HangsOn
    nearness: float | None
    lost: float  # share of the advantage that goes at the worse end


def _advantage(costs: Costs, best: str) -> tuple[float, str]:
    """What the action saves over the best of the others, below zero where one of them is better; and which."""
    mean = costs.mean
    at = costs.actions.index(best) if best in costs.actions else int(np.argmax(mean))
    others = np.delete(mean, at)
    other = [a for i, a in enumerate(costs.actions) if i != at][int(np.argmin(others))]
    return float(others.min() - mean[at]), other


def _of_input(known: Known, values: Values, best: str, tried: Callable[[Values], Costs]) -> _Found:
    """How an input bears on the choice, by the end that is worse for the best action."""

    def at(value: float) -> tuple[float, str]:
        try:
            return _advantage(tried(values.with_value(known.input.name, value)), best)
        except Refusal:  # an end that cannot be, together with the other inputs, tells nothing
            return np.inf, ""

    label, now = known.input.label, known.value
    start, _ = at(now)
    ends = [(end, *at(end)) for end in known.ends if end != now]
    turned = []
    for end, gain, other in ends:
        if gain < 0 < start:
            inner, outer = 0.0, 1.0
            for _ in range(STEPS):
                middle = 0.5 * (inner + outer)
                inner, outer = (middle, outer) if at(now + middle * (end - now))[0] > 0 else (inner, middle)
            turned.append((0.5 * (inner + outer), end, other))
    if turned:
        way, end, other = min(turned)
        even = now + way * (end - now)
        side = "Above" if end > now else "Below"
        sentence = f"{label}: now {_say(now, known)}. {side} about {_say(even, known)}, {other} is cheaper."
        return _Found(HangsOn(label, sentence, now, even, way, other), way, 1.0)
    end, gain, other = min(ends, key=lambda e: e[1])
    lost = (start - gain) / max(abs(start), 1e-12)
    sentence = (
        f"Nothing that was tried turns the choice. It leans most on {label.lower()}: at {_say(end, known)} instead of {_say(now, known)} "
        f"{best} saves {amount(gain)} over {other}, not {amount(start)}."
    )
    return _Found(HangsOn(label, sentence, now, None, None, None), None, float(lost))


def _say(value: float, known: Known) -> str:
    return plain(value, known.input.unit)


def _of_lever(lever: Lever, costs: Costs, best: str) -> _Found:
    """How a belief bears on the choice: expected costs in tenths of the draws, in its order."""
    order = np.argsort(lever.values, kind="stable")
    reached = np.cumsum(costs.weights[order])
    tenth = np.minimum((BINS * (reached - 0.5 * costs.weights[order]) / reached[-1]).astype(np.int64), BINS - 1)
    of = costs.actions.index(best)
    sums = np.stack([np.bincount(tenth, weights=row[order] * costs.weights[order], minlength=BINS) for row in costs.expected])
    means = sums / np.maximum(np.bincount(tenth, weights=costs.weights[order], minlength=BINS), 1e-300)
    others = np.delete(means, of, axis=0)
    names = [a for i, a in enumerate(costs.actions) if i != of]
    gain = others.min(axis=0) - means[of]
    middle = (np.arange(BINS) + 0.5) / BINS
    value = np.interp(middle, (reached - 0.5 * costs.weights[order]) / reached[-1], lever.values[order])
    now, start = float(np.interp(0.5, middle, value)), float(np.interp(0.5, middle, gain))
    turns = []
    for way in (range(BINS // 2 - 1, -1, -1), range(BINS // 2, BINS)):
        before, place = start, 0.5
        for i in way:
            if gain[i] < 0 < before:
                share = before / (before - gain[i])
                at = place + share * (middle[i] - place)
                turns.append(
                    (abs(at - 0.5) / 0.5, float(np.interp(at, middle, value)), middle[i] > 0.5, names[int(np.argmin(others[:, i]))])
                )
                break
            before, place = gain[i], middle[i]
    if turns:
        nearness, even, above, other = min(turns)
        side = "above" if above else "below"
        sentence = f"{_first_up(lever.name)}: likely {lever.words(now)}. If it is {side} about {lever.words(even)}, {other} is cheaper."
        return _Found(HangsOn(lever.name, sentence, now, even, nearness, other), nearness, 1.0)
    worst = int(np.argmin(gain))
    lost = (start - gain[worst]) / max(abs(start), 1e-12)
    sentence = (
        f"Nothing that was tried turns the choice. It leans most on {lever.name}: at {lever.words(float(value[worst]))} instead of "
        f"{lever.words(now)} {best} saves {amount(float(gain[worst]))}, not {amount(start)}."
    )
    return _Found(HangsOn(lever.name, sentence, now, None, None, None), None, float(lost))


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:]
