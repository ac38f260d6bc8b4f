"""Plants compared, in words: odds of two plants, life factors, and what another air would give."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from wearfit.forecasts.changed_air import Gain
from wearfit.forecasts.quantiles import Quantiles
from wearfit.workflow.wording import UNKNOWN, frequency

EVEN: Final = 0.55  # odds nearer to a half are as good as even


@dataclass(frozen=True)
class Odds:
    """The chance that tools wear faster at one plant than at another one; at least a half."""

    faster: str
    slower: str
    chance: float


def odds_of(contrasts: Sequence[Mapping[str, Any]]) -> tuple[Odds, ...]:
    """Every pair of plants, turned so that the chance is at least a half; the surest first."""
    found = [
        Odds(c["plant_a"], c["plant_b"], c["p_a_wears_faster"])
        if c["p_a_wears_faster"] >= 0.5
        else Odds(c["plant_b"], c["plant_a"], 1.0 - c["p_a_wears_faster"])
        for c in contrasts
    ]
    return tuple(sorted(found, key=lambda odds: (-odds.chance, odds.faster, odds.slower)))


def odds_sentence(odds: Odds) -> str:
    """The chance in words."""
    if odds.chance < EVEN:
        return f"About even between {odds.faster} and {odds.slower}"
    chance = frequency(odds.chance).replace(">", "more than")
    return f"{chance[0].upper()}{chance[1:]} that tools wear faster at {odds.faster} than at {odds.slower}"


def times(life: Quantiles) -> str:
    """A life factor with the range that holds 9 of 10: "1.42 times (1.10 to 1.81)"."""
    return UNKNOWN if life["p50"] is None else f"{life['p50']:.2f} times ({life['p05']:.2f} to {life['p95']:.2f})"


def summary(plants: Sequence[Mapping[str, Any]]) -> str:
    """Where tools last longest and shortest."""
    if len(plants) == 1:
        return f"Only {plants[0]['plant_id']} has runs, so that there is nothing to compare it with."
    ranked = sorted(plants, key=lambda plant: -(plant["life_factor"]["p50"] or 0.0))
    first, last = ranked[0], ranked[-1]
    return (
        f"Tools last longest at {first['plant_id']}, likely {times(first['life_factor'])} the shots of the mean plant, and shortest at "
        f"{last['plant_id']}, likely {times(last['life_factor'])}. In brackets, what holds 9 in 10."
    )


def gain_sentence(gain: Gain) -> str:
    """What a change of air gives at a plant."""
    return f"likely {times(gain.life)} the shots"


def sweating_sentence(gain: Gain) -> str:
    """How much of the press hours moulds sweat before a change of air and after it."""
    before, after = (f"{100 * share:.0f} %" for share in (gain.sweating_before, gain.sweating_after))
    return f"moulds sweat {before} of press hours" + ("" if before == after else f", then {after}")
