"""What a row of the tools table must say."""

from typing import Final

import pandas as pd

from wearfit.records.coatings import COATINGS, coating_of
from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, mark, with_table

# Between the ranges that the steels come in: pre-hardened to 40 HRC, hardened from 48; what is not steel is below. Judgement.
HARDEST: Final = {"prehard": 44.0, "aluminium": 20.0, "copper_alloy": 46.0}  # [HRC]
SOFTEST: Final = {"hard": 44.0, "stainless": 28.0}  # [HRC]
# Floors of the trade's Classifications of Injection Molds.
CLASS_FLOOR_HRC: Final = {"101": 48.0, "102": 48.0, "103": 28.0}
NEAR_HRC: Final = 4.0  # a hardness so little below is one measured elsewhere, or another day


def judge_tools(frames: Frames) -> Judged:
    """Bands the right way round."""
    tools = frames["tools"]
    turned = tools["band_low"] > tools["band_high"]
    if not turned.any():
        return dict(frames), []
    findings = mark(
        "tools", tools[turned], "band_low", "band_low {band_low} is more than band_high {band_high}; they are read the other way round.",
        "Exchange the two.", "repaired",
    )  # fmt: skip
    low, high = tools["band_low"], tools["band_high"]
    return with_table(frames, "tools", tools.assign(band_low=low.where(~turned, high), band_high=high.where(~turned, low))), findings


def note_tools(frames: Frames) -> Judged:
    """Note classes that are not known, and what contradicts itself."""
    tools = frames["tools"]
    unknown = (tools["service_class"] == "") & tools["band_low"].isna() & tools["band_high"].isna()
    findings = mark(
        "tools", tools[unknown], "service_class", "Tool {tool_id} has neither service_class nor band; its forecast mixes the bands.",
        "Fill in service_class, or band_low and band_high.", "note",
    )  # fmt: skip
    findings += _at_odds(tools)
    unread = tools["coating"].map(coating_of).isna()
    findings += mark(
        "tools", tools[unread], "coating",
        "What the coating '{coating}' of {tool_id} does against wear is not known; it counts as none.",
        f"Write one of: {', '.join(COATINGS)}.", "note",
    )  # fmt: skip
    return dict(frames), findings


def _at_odds(tools: pd.DataFrame) -> list[Finding]:
    """Hardness, steel and class that contradict each other; the steel named is used before the hardness."""
    steel, hardness, service_class = tools["cavity_steel"], tools["hardness_hrc"], tools["service_class"]
    too_hard = hardness > steel.map(HARDEST)
    too_soft = hardness < steel.map(SOFTEST)
    findings = mark(
        "tools", tools[too_hard | too_soft], "hardness_hrc",
        "{hardness_hrc} HRC and cavity_steel {cavity_steel} of {tool_id} contradict each other; the steel named is used.",
        "Correct the one that is wrong.", "note",
    )  # fmt: skip
    floor = service_class.map(CLASS_FLOOR_HRC)
    below = hardness < floor - NEAR_HRC
    findings += mark(
        "tools", tools.assign(floor=floor)[below], "hardness_hrc",
        "{tool_id} is of class {service_class}, for which the trade asks for {floor} HRC, and its cavities have {hardness_hrc}; its life "
        "is taken to be shorter than its class's, by its steel.",
        "Check class and hardness with its maker.", "note",
    )  # fmt: skip
    soft = floor.notna() & hardness.isna() & (steel == "aluminium")
    findings += mark(
        "tools", tools[soft], "cavity_steel",
        "{tool_id} is of class {service_class}, yet its cavities are said to be aluminium; its life is taken to be shorter than "
        "its class's.",
        "Check class and steel with its maker.", "note",
    )  # fmt: skip
    return findings
