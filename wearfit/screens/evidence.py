"""Evidence: what past forecasts were worth, whether the records fit, what was believed before and after, and what to measure next."""

from collections.abc import Mapping
from typing import Any, Final

import streamlit as st

from wearfit.screens import cached, shell, states
from wearfit.screens.belief_charts import effects, lives
from wearfit.screens.cached import Answering
from wearfit.screens.chance_chart import told_against_observed
from wearfit.screens.figures import Numbers, downloads, in_numbers, table
from wearfit.screens.fit_drawn import fit_section
from wearfit.screens.law_drawn import law_section
from wearfit.screens.measure_drawn import measure_section
from wearfit.screens.moved_drawn import moved_section
from wearfit.screens.searches_chart import side_by_side
from wearfit.screens.sentences import listed
from wearfit.screens.unbroken import escape
from wearfit.workflow.backtest import kept_backtest
from wearfit.workflow.backtest_in_words import NAMES, sentences
from wearfit.workflow.evidence_in_words import diagnostic_rows, factor_sentences, life_sentence, soundness
from wearfit.workflow.wording import day_in_words

SCORES: Final = (
    "Forecaster",
    "Log score of a run",
    "Brier score of a run",
    "CRPS of shots left",
    "50 % ranges hold",
    "80 % ranges hold",
    "90 % ranges hold",
)


def show() -> None:
    """Draw the page."""
    shell.answering_screen("Evidence", _draw)


def _draw(answering: Answering) -> None:
    _past(answering)
    fit_section(answering)
    moved_section(answering)
    law_section(answering)
    _beliefs(answering)
    _sound(answering)
    measure_section(answering)


def _past(answering: Answering) -> None:
    st.header("Would it have warned?", anchor=False)
    kept = kept_backtest(answering.version.store)
    if kept is None:
        states.note(
            "Not asked yet",
            "Nobody has looked yet whether its forecasts of the past came true.",
            "Run `wearfit backtest`: it calibrates on what was known on five past days and takes some minutes.",
        )
        return
    first, *others = sentences(kept)
    st.html(f'<p class="wf-lead">{escape(first)}</p>')
    if kept["fingerprint"] != answering.version.fingerprint:
        states.note(
            "The records have changed since",
            f"It looked at the records up to {day_in_words(kept['as_of'])}, which are not those that answer now.",
            "Run `wearfit backtest` again.",
        )
    listed(others)
    told_against_observed(kept["calibration_curve"])
    _scores(kept)


def _scores(kept: Mapping[str, Any]) -> None:
    st.subheader("Beside what one would do without it", anchor=False)
    of_all = {"wearfit": kept, **{NAMES[name]: rival for name, rival in kept["baselines"].items()}}
    rows = [
        (name, s["log_score"], s["brier"], s["crps"], *(s["coverage"][level] for level in ("50", "80", "90"))) for name, s in of_all.items()
    ]
    table(Numbers("backtest-scores", SCORES, rows), "Scores of wearfit and of what one would do without it.", "scores")
    st.caption(
        "The three scores are penalties: the lower the better. CRPS is in lives of the tool's class. Ranges of the shots left should "
        "hold 50, 80 and 90 % of lives."
    )
    downloads(Numbers("backtest-scores", SCORES, rows), "scores")


def _beliefs(answering: Answering) -> None:
    beliefs = cached.beliefs(answering.version)
    st.header("Before the records, and after", anchor=False)
    st.write("What the trade's bands say of a new tool in an unfilled resin at the average plant, and what your records made of it.")
    lives(beliefs.lives)
    listed([f"{life_sentence(belief)}." for belief in beliefs.lives])
    st.subheader("What wears tools faster", anchor=False)
    effects(beliefs.factors)
    listed([f"{sentence}." for sentence in factor_sentences(beliefs.factors)])


def _sound(answering: Answering) -> None:
    st.header("Is the calibration sound?", anchor=False)
    identity = cached.current(answering).calibration.identity
    listed(soundness(identity.diagnostics, identity.lives, identity.wear_outs))
    heads = ("Measure", "Value", "Asked of it")
    side_by_side(cached.searched(answering.version))
    in_numbers(Numbers("diagnostics", heads, diagnostic_rows(identity.diagnostics)), "The diagnostics of the calibration.", "diagnostics")


if __name__ == "__main__":
    show()
