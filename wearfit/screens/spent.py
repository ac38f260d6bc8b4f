"""The lives of one tool on the wear clock, and where its wear came from."""

import streamlit as st

from wearfit.screens import intervals
from wearfit.screens.figures import Numbers, in_numbers
from wearfit.workflow.tool_history import ToolHistory
from wearfit.workflow.tool_wear import Life, Source
from wearfit.workflow.wording import month_in_words, shots, spread


def lives_section(history: ToolHistory) -> None:
    """Draw where the clock stood at the end of each life."""
    st.header("Its lives", anchor=False)
    furthest = max([life.wear["p90"] or 0.0 for life in history.lives if life.wear is not None], default=0.0) or 1.0
    step = intervals.round_step(furthest / 4.0)
    ticks = [intervals.Tick(n * step / furthest, f"{n * step:,.0f}") for n in range(5) if n * step <= furthest]
    rows = [_life(life, furthest) for life in history.lives]
    intervals.draw(rows, ticks, f"The lives of {history.tool_id}", ("Life", "Wear at its end", "How it ended"), "lives")
    said = (
        "Drawn is the wear on the clock at the end of each life, in reference shots: shots at the average plant, in an unfilled resin that "
        "does not corrode. What a refurbishment left of the wear before is part of it."
    )
    if any(life.reckoned for life in history.lives):
        said += " Shots made before its records are reckoned: they are part of the wear, not of the shots."
    st.caption(said)
    columns = ("Life", "Began", "Ended", "How it ended", "Shots", *(f"Wear at its end, {q}" for q in ("low", "likely", "high")))
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


def sources_section(history: ToolHistory) -> None:
    """Draw the shares of plants and of resins; nothing where no wear is on the clock or its age is unknown."""
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


def _whole(number: float | None) -> int | None:
    return None if number is None else round(number)
