"""What a page says where there is no answer, and why: each state with what to do about it."""

from typing import Final

import streamlit as st

from wearfit.errors import Refusal
from wearfit.screens import ways
from wearfit.screens.unbroken import escape, with_commands
from wearfit.store.calibrations import CalibrationEntry
from wearfit.workflow.wording import day_in_words

RECORDS: Final = "[Records]"  # in a note: the way to that screen


def note(head: str, text: str, repair: str = "") -> None:
    """A note that the reader should not miss: what is the case, and what to do about it."""
    st.html(f'<div class="wf-note" role="status"><strong>{escape(head)}</strong><span>{_set(f"{text} {repair}")}</span></div>')


def _set(text: str) -> str:
    """Text for HTML, with its commands, in which RECORDS is a way there."""
    return with_commands(text).replace(RECORDS, ways.way(ways.address("Records"), "Records"))


def no_store(address: str) -> None:
    """Nothing has been handed over yet."""
    note(
        "No records yet",
        f"There is no store at {address}.",
        f"Hand over your records under {RECORDS}; or `wearfit recalibrate PATH` reads a workbook or a folder of files and "
        "calibrates. `wearfit template records.xlsx` writes an empty workbook in which every column is explained, and `wearfit demo` "
        "shows an invented fleet.",
    )


def no_records(address: str) -> None:
    """A store without records."""
    note(
        "No records yet",
        f"The store at {address} is empty.",
        f"Hand over your records under {RECORDS}, or run `wearfit recalibrate PATH`.",
    )


def no_calibration() -> None:
    """Records, but nothing has been learned from them yet."""
    note(
        "Not calibrated yet",
        "The records are stored, but no calibration has been made of them, so no tool's date can be told.",
        f"Recalibrate under {RECORDS}, or run `wearfit recalibrate`; it takes about half a minute for a hundred tools.",
    )


def none_answers(failed: CalibrationEntry | None) -> None:
    """There are calibrations, and none of them may answer."""
    if failed is None:
        note(
            "No calibration answers",
            "None of the calibrations was made current.",
            f"Choose one under {RECORDS}, or with `wearfit calibrations --use ID`.",
        )
        return
    note(
        "No calibration answers",
        f"Calibration {failed.id}, made on the records up to {day_in_words(failed.summary.as_of)}, did not settle well enough to be used.",
        f"Recalibrate under {RECORDS}, or run `wearfit recalibrate --seed 2`: other random draws often settle.",
    )


def older_answers(failed: CalibrationEntry, number: int) -> None:
    """The last calibration failed, and what is shown rests on the one before."""
    note(
        f"Calibration {number} still answers",
        f"The newer calibration {failed.id}, made on the records up to {day_in_words(failed.summary.as_of)}, did not settle well enough to "
        "be used.",
        f"Recalibrate under {RECORDS}, or run `wearfit recalibrate --seed 2`: other random draws often settle.",
    )


def working(sentence: str, why: str) -> None:
    """An answer that is under way; the page comes back by itself."""
    note("One moment", f"{sentence}. {why}")


def refused(refusal: Refusal) -> None:
    """An answer that the records or the calibration do not allow."""
    note("This cannot be answered", refusal.problem, refusal.repair)


def fault(error: Exception) -> None:
    """A fault of the program: said here, told in full on the terminal."""
    note(
        "This page failed by a fault of the program",
        f"{type(error).__name__}. Nothing in the store was changed.",
        "Reload the page; if it comes back, report it with the lines that `wearfit serve` printed.",
    )
