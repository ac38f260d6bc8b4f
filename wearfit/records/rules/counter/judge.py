"""What counter readings say: which can be used, how the counter went from one to the next, and the runs they tell of."""

import numpy as np
import pandas as pd

from wearfit.records.frames import Frames
from wearfit.records.rules.counter.course import course_of, note_breaks
from wearfit.records.rules.counter.runs import reckon_runs
from wearfit.records.rules.counter.slips import mend_slips
from wearfit.records.rules.events import retirement_days
from wearfit.records.rules.marking import Judged, by_tool, mark, of_tool, with_table


def judge_counters(frames: Frames) -> Judged:
    """Leave out readings that cannot be, mend those that can be, and reckon runs where the counter alone tells of them.

    Parameters
    ----------
    frames : Frames
        Rows of unknown tools and events outside a tool's time set aside before.

    Returns
    -------
    Judged
        The counter keeps the readings used, as they are used. `runs` has gained those of the tools that had none.
    """
    if frames["counter"].empty:
        return dict(frames), []
    used, findings = _within_the_tools_time(with_table(frames, "counter", _in_order(frames["counter"])))
    used, slips = mend_slips(used)
    course = course_of(used)
    breaks = note_breaks(used, course)
    used, reckoned = reckon_runs(used, course)
    return used, [*findings, *slips, *breaks, *reckoned]


def _in_order(counter: pd.DataFrame) -> pd.DataFrame:
    """The counter in order of tool and date, which it mostly is already."""
    tool, date = counter["tool_id"].to_numpy(), counter["date"].to_numpy()
    if bool(np.all((tool[1:] > tool[:-1]) | ((tool[1:] == tool[:-1]) & (date[1:] >= date[:-1])))):
        return counter
    return counter.sort_values(["tool_id", "date"], kind="stable")


def _within_the_tools_time(frames: Frames) -> Judged:
    counter = frames["counter"]
    counter = counter.assign(
        commissioned_on=of_tool(frames, counter, "commissioned_on"), retired_on=by_tool(retirement_days(frames["events"]), counter)
    )
    early = counter["date"] < counter["commissioned_on"]
    findings = mark(
        "counter", counter[early], "date", "The reading of {tool_id} on {date} lies before the tool was commissioned on {commissioned_on}.",
        "Correct the date, or commissioned_on in the tools table.", "set_aside",
    )  # fmt: skip
    # The last reading is often taken when the tool has been taken down; what it shows was made by then.
    late = counter["date"] > counter["retired_on"]
    first = late & ~counter["tool_id"].where(late).duplicated()
    read_then = counter["tool_id"][counter["date"] == counter["retired_on"]]
    closing = first & ~counter["tool_id"].isin(read_then)
    findings += mark(
        "counter", counter[closing], "date",
        "The reading of {tool_id} on {date} was taken after the tool was retired on {retired_on}; it is read as of that day.",
        "Correct the date, or that of the retire in the events table.", "repaired",
    )  # fmt: skip
    findings += mark(
        "counter", counter[late & ~closing], "date", "The reading of {tool_id} on {date} lies after the tool was retired on {retired_on}.",
        "Correct the date, or that of the retire in the events table.", "set_aside",
    )  # fmt: skip
    counter = counter.assign(date=np.where(closing, counter["retired_on"], counter["date"]).astype("datetime64[s]"))
    kept = counter[~early & (~late | closing)].drop(columns=["commissioned_on", "retired_on"])
    return with_table(frames, "counter", kept), findings
