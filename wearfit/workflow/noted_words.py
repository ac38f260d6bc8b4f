"""Sentences on noted defects: wear or settings, and what would settle it."""

from collections.abc import Mapping
from typing import Any, Final

from wearfit.workflow.wording import cut, frequency

LONGEST_NOTE: Final = 60  # characters of a note that a sentence quotes
NAMES: Final = {
    "burn": "burn marks", "short_shot": "short shots", "sink_or_warp": "sink marks or warp", "dimension": "a drifting dimension",
    "detail": "loss of detail or gloss", "drag": "drag or sticking", "surface": "splay, lines, specks or colour",
    "sharp_edge": "a sharp edge", "loose_part": "a loose or broken-off part",
}  # fmt: skip


def noted_sentences(tool: Mapping[str, Any]) -> list[str]:
    """What to say of the defects noted of a tool, the latest first."""
    said = []
    for defect in reversed(tool["noted"]):
        what = NAMES.get(defect["defect"], defect["defect"].replace("_", " "))
        sentence = f"{what} noted on {defect['date']} ('{cut(defect['note'], LONGEST_NOTE)}'){_chance(defect)}."
        if defect["look_before_running"] and tool["status"] != "held":
            sentence += " No hold came with it: have it looked at before it runs."
        said.append(sentence)
    return said


def _chance(defect: Mapping[str, Any]) -> str:
    if defect["p_wear"] is None:
        return ""
    low, high = (defect["life_used_then"][q] for q in ("p10", "p90"))
    used = "" if low is None else f", with some {100 * low:.0f} to {100 * high:.0f} % of its life used by then"
    return f": {frequency(defect['p_wear'])} that it is wear, not settings{used}. {defect['question']} A yes speaks for wear"
