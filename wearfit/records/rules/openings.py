"""What a tool had behind it when its runs begin to be recorded."""

from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, by_tool, mark

NEW_WITHIN_DAYS = 60  # a first run within this of commissioning has nothing before it


def judge_openings(frames: Frames) -> Judged:
    """Note tools whose use before the first recorded run is not known, or is said in two ways."""
    first_run = frames["runs"].groupby("tool_id")["started_on"].min()
    tools = frames["tools"].assign(first_run=lambda frame: by_tool(first_run, frame))
    idle_days = (tools["first_run"] - tools["commissioned_on"]).dt.days
    opening, in_life = tools["opening_shots"], tools["opening_life_shots"]
    # Where no renewal can be hidden, what was made since commissioning was made in this life.
    nothing_hidden = (tools["history_from"] <= tools["commissioned_on"]) | (opening == 0)
    taken_as_new = opening.isna() & (idle_days <= NEW_WITHIN_DAYS)
    unknown = idle_days.notna() & in_life.isna() & ~(opening.notna() & nothing_hidden) & ~taken_as_new
    at_odds = in_life > opening
    return dict(frames), [
        *mark(
            "tools", tools[unknown], "opening_life_shots",
            "Tool {tool_id} was commissioned on {commissioned_on} and its first recorded run starts on {first_run}; the shots that its "
            "life had behind it then are taken as not known.",
            "Fill in opening_shots and opening_life_shots, 0 if it stood idle.", "note",
        ),
        *mark(
            "tools", tools[at_odds], "opening_life_shots",
            "opening_life_shots {opening_life_shots} is more than opening_shots {opening_shots}, of which it is a part.",
            "Correct one of the two.", "note",
        ),
    ]  # fmt: skip
