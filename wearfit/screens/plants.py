"""Plants: how long tools last at each, how much of that is the air, and what another air would give."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.forecasts.changed_air import Gain
from wearfit.screens import cached, intervals, shell, states
from wearfit.screens.air_chart import against_air
from wearfit.screens.cached import Answering
from wearfit.screens.climate_chart import apart
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.screens.unbroken import escape
from wearfit.workflow.plants_in_words import gain_sentence, odds_of, odds_sentence, summary, sweating_sentence
from wearfit.workflow.warmer_coolant import WARMEST_C
from wearfit.workflow.wording import MOVING, frequency

WARM: Final = "a warmer coolant"
DRY: Final = "a dry hall"
CONDITIONED: Final = "a conditioned hall"
MEANS: Final[Mapping[str, str]] = {
    DRY: "The hall air is kept so dry that no mould sweats. What salt and sulfur do to bare steel stays as it is.",
    CONDITIONED: "The hall is closed, dried and filtered: no mould sweats, and the air corrodes no more than a conditioned hall's does.",
    WARM: "The coolant is warmer, so that moulds sweat for fewer hours. What a warmer coolant costs in cycle time is not reckoned here.",
}


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Plants", _draw)


def _draw(answering: Answering) -> None:
    compared = cached.plants(answering)
    plants: Sequence[Mapping[str, Any]] = compared["plants"]
    st.html(f'<p class="wf-lead">{escape(summary(plants))}</p>')
    against_air(answering, plants)
    apart(answering, plants)
    if len(plants) > 1:
        _odds(compared["contrasts"], [str(plant["plant_id"]) for plant in plants])
    _changed_air(answering)
    shell.caution(MOVING)


def _odds(contrasts: Sequence[Mapping[str, Any]], plants: Sequence[str]) -> None:
    st.header("Plant against plant", anchor=False)
    odds = odds_of(contrasts)
    hardest = max(plants, key=lambda plant: sum(o.chance - 0.5 for o in odds if o.faster == plant))
    chosen = st.selectbox("Compare", plants, index=plants.index(hardest), key="compare", bind="query-params", width=340) or hardest
    about = [o for o in odds if chosen in (o.faster, o.slower)]
    st.html(f'<ul class="wf-sentences">{"".join(f"<li>{escape(odds_sentence(o))}.</li>" for o in about)}</ul>')
    rows = [(o.faster, o.slower, round(o.chance, 4), odds_sentence(o)) for o in odds]
    says = "Every pair of plants with the chance that tools wear faster at one of them."
    in_numbers(Numbers("plants-odds", ("Faster at", "than at", "Chance", "In words"), rows), says, "odds")


def _changed_air(answering: Answering) -> None:
    st.header("What another air would give", anchor=False)
    change = st.segmented_control(
        "What if every plant had", (DRY, CONDITIONED, WARM), default=DRY, required=True, key="if", bind="query-params"
    )
    gains: tuple[Gain, ...] | None
    if change == WARM:
        degrees = st.slider("Warmer by (°C)", 1, WARMEST_C, 4, key="warmer", bind="query-params", width=340)
        gains = _warmer(answering, degrees)
    else:
        degrees, gains = 0, cached.drier_air(answering.version, change == CONDITIONED)
    if gains is None:
        return
    st.write(MEANS[change or DRY])
    if not gains:
        st.write("No plant's climate is recorded, so that this cannot be told.")
        return
    ranked = sorted(gains, key=lambda gain: (-(gain.life["p50"] or 0.0), gain.plant_id))
    ends = [1.0, *(gain.life[q] or 1.0 for gain in ranked for q in ("p05", "p95"))]
    scale = intervals.scale_over(ends, lambda life, step: f"{life:.{0 if step >= 1.0 else 1 if step >= 0.1 else 2}f}×")
    heads = ("Plant", "Life with it over life without it", "In words")
    intervals.draw([_gained(gain, scale) for gain in ranked], scale.ticks, f"What {change} would give at each plant", heads, "gains")
    st.caption(
        "The line holds 9 in 10, the notch is likely; 1× changes nothing. Use is taken as even over the year, and all that the air does "
        "not explain of a plant as staying what it is."
    )
    columns = (
        "Plant", "Life gained, low (5 %)", "Life gained, likely", "Life gained, high (95 %)", "Chance that tools last longer",
        "Sweating hours before (share)", "Sweating hours after (share)",
    )  # fmt: skip
    rows = [(g.plant_id, g.life["p05"], g.life["p50"], g.life["p95"], g.p_longer, g.sweating_before, g.sweating_after) for g in ranked]
    name = f"plants-warmer-by-{degrees}" if change == WARM else f"plants-{(change or DRY).removeprefix('a ').replace(' ', '-')}"
    in_numbers(Numbers(name, columns, rows), f"What {change} would give at each plant.", "gains")


def _warmer(answering: Answering, degrees: int) -> tuple[Gain, ...] | None:
    """Gains by the climate records; None while they are put together or where there are none."""
    try:
        if not shell.ready(cached.records_job(answering), "Putting the climate records together"):
            return None
        return cached.warmer(answering, degrees)
    except Refusal as refusal:
        states.refused(refusal)
        return None


def _gained(gain: Gain, scale: intervals.Scale) -> intervals.Interval:
    low, likely, high = (scale.at(gain.life[q] or 0.0) for q in ("p05", "p50", "p95"))
    longer = f"{frequency(gain.p_longer)} that tools last longer"
    return intervals.Interval(gain.plant_id, sweating_sentence(gain), gain_sentence(gain), longer, low, likely, high)


if __name__ == "__main__":
    show()
