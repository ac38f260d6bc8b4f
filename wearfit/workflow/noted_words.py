"""Sentences on noted defects: wear or settings, and what would settle it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from wearfit.workflow.wording import cut, day_in_words, frequency

LONGEST_NOTE: Final = 60  # characters of a note that a sentence quotes
LOOK: Final = "Have it looked at before it runs"
YES: Final = "A yes speaks for wear."
NAMES: Final = {
    "burn": "burn marks", "short_shot": "short shots", "sink_or_warp": "sink marks or warp", "dimension": "a drifting dimension",
    "detail": "loss of detail or gloss", "drag": "drag or sticking", "surface": "splay, lines, specks or colour",
    "sharp_edge": "a sharp edge", "loose_part": "a loose or broken-off part",
}  # fmt: skip


@dataclass(frozen=True)
class NotedWords:
    """A noted defect in words; empty where there is nothing to say.

    Parameters
    ----------
    what, on, note : str
        What it is, the day in ISO form, and the note, cut.
    chance : str
        That it is wear.
    used : str
        How much of the tool's life was used by then.
    question : str
        That would settle it.
    look : str
        A plea to have it looked at.
    """

    what: str
    on: str
    note: str
    chance: str
    used: str
    question: str
    look: str


def last_to_look_at(tool: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The latest noted defect for which a tool is to be looked at before it runs, if any; a held or worn one does not run."""
    asked = [defect for defect in tool["noted"] if defect["look_before_running"]]
    return max(asked, key=lambda defect: str(defect["date"])) if asked and tool["status"] not in ("held", "worn") else None


def why_look(noted: Mapping[str, Any]) -> str:
    """Why a tool is to be looked at before it runs, in a sentence."""
    return f"A note of {day_in_words(noted['date'])} says \u2018{cut(noted['note'], LONGEST_NOTE)}\u2019, and no hold came with it."


def noted_words(tool: Mapping[str, Any]) -> list[NotedWords]:
    """What to say of the defects noted of a tool, the latest first."""
    return [_words(defect, tool["status"] == "held") for defect in reversed(tool["noted"])]


def _words(defect: Mapping[str, Any], held: bool) -> NotedWords:
    known = defect["p_wear"] is not None
    low, high = (defect["life_used_then"][q] if known else None for q in ("p10", "p90"))
    return NotedWords(
        what=NAMES.get(defect["defect"], defect["defect"].replace("_", " ")),
        on=defect["date"],
        note=cut(defect["note"], LONGEST_NOTE),
        chance=frequency(defect["p_wear"]) if known else "",
        used="" if low is None or high is None else f"some {100 * low:.0f} to {100 * high:.0f} % of its life used by then",
        question=defect["question"] if known else "",
        look="No hold came with it: have it looked at before it runs." if defect["look_before_running"] and not held else "",
    )


def noted_sentences(tool: Mapping[str, Any]) -> list[str]:
    """The same, a line for each."""
    return [_sentence(words) for words in noted_words(tool)]


def _sentence(words: NotedWords) -> str:
    used = f", with {words.used}" if words.used else ""
    told = f": {words.chance} that it is wear, not settings{used}. {words.question} {YES}" if words.chance else "."
    return " ".join(filter(None, (f"{words.what} noted on {words.on} ('{words.note}'){told}", words.look)))
