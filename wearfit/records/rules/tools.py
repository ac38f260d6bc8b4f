"""What a row of the tools table must say."""

from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, mark, with_table


def judge_tools(frames: Frames) -> Judged:
    """Bands the right way round, classes known or said to be unknown."""
    tools = frames["tools"]
    findings = []

    turned = tools["band_low"] > tools["band_high"]
    findings += mark(
        "tools", tools[turned], "band_low", "band_low {band_low} is more than band_high {band_high}; they are read the other way round.",
        "Exchange the two.", "repaired",
    )  # fmt: skip
    low, high = tools["band_low"], tools["band_high"]
    tools = tools.assign(band_low=low.where(~turned, high), band_high=high.where(~turned, low))

    unknown = (tools["service_class"] == "") & tools["band_low"].isna() & tools["band_high"].isna()
    findings += mark(
        "tools", tools[unknown], "service_class", "Tool {tool_id} has neither service_class nor band; its forecast mixes the bands.",
        "Fill in service_class, or band_low and band_high.", "note",
    )  # fmt: skip
    return with_table(frames, "tools", tools), findings
