"""What a row of the readings table must say."""

from wearfit.records.findings import Finding
from wearfit.records.frames import Frames
from wearfit.records.rules.events import retirement_days
from wearfit.records.rules.marking import Judged, by_tool, mark, of_tool, with_table


def judge_readings(frames: Frames) -> Judged:
    """Readings within the tool's own time."""
    readings = frames["readings"]
    if readings.empty:
        return dict(frames), []
    readings = readings.assign(
        commissioned_on=of_tool(frames, readings, "commissioned_on"), retired_on=by_tool(retirement_days(frames["events"]), readings)
    )
    early, late = readings["date"] < readings["commissioned_on"], readings["date"] > readings["retired_on"]
    if not (early | late).any():
        return dict(frames), []
    findings: list[Finding] = mark(
        "readings", readings[early], "date",
        "The reading of {feature} of {tool_id} on {date} lies before the tool was commissioned on {commissioned_on}.",
        "Correct the date, or commissioned_on in the tools table.", "set_aside",
    )  # fmt: skip
    findings += mark(
        "readings", readings[late], "date",
        "The reading of {feature} of {tool_id} on {date} lies after the tool was retired on {retired_on}.",
        "Correct the date, or that of the retire in the events table.", "set_aside",
    )  # fmt: skip
    return with_table(frames, "readings", frames["readings"][~(early | late)]), findings
