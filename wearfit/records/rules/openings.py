"""What a tool had behind it when its runs, or its renewals, begin to be recorded."""

from wearfit.records.frames import Frames
from wearfit.records.rules.marking import Judged, by_tool, mark, of_tool

RENEWALS = ("refurbish", "retool")
NEW_WITHIN_DAYS = 60  # a first run within this of commissioning has nothing before it


def note_openings(frames: Frames) -> Judged:
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
    late = tools["history_from"] > tools["first_run"]
    events = frames["events"].assign(history_from=lambda frame: of_tool(frames, frame, "history_from"))
    cuts_new = events["event"].isin(RENEWALS) | ((events["event"] == "modify") & (events["renewed_share"] > 0))
    events["first_run"] = by_tool(first_run, events)
    known = events[cuts_new & (events["date"] < events["history_from"]) & (events["date"] >= events["first_run"])]
    earliest = known.sort_values(["tool_id", "date"], kind="stable").drop_duplicates("tool_id").set_index("tool_id")
    tools = tools.assign(renewed_on=by_tool(earliest["date"], tools), event=by_tool(earliest["event"], tools))
    told = late & tools["renewed_on"].notna()
    late &= ~told
    return dict(frames), [
        *mark(
            "tools", tools[unknown], "opening_life_shots",
            "Tool {tool_id} was commissioned on {commissioned_on} and its first recorded run starts on {first_run}; the shots that its "
            "life had behind it then are taken as not known: they are reckoned from that time and usual use, with a wide range.",
            "Fill in opening_shots and opening_life_shots, 0 if it stood idle.", "note",
        ),
        *mark(
            "tools", tools[late], "history_from",
            "Renewals of {tool_id} are on record from {history_from}, runs from {first_run}: its life may have begun anew in between, so "
            "the runs before {history_from} count as part of an age that is not known.",
            "Add the renewals since {first_run}, and set history_from to that day or leave it blank.", "note",
        ),
        *mark(
            "tools", tools[told], "history_from",
            "history_from {history_from} says that renewals of {tool_id} before it are not on record, yet the {event} of {renewed_on} is; "
            "renewals are taken to be on record since its first run on {first_run}.",
            "Set history_from to the day from which all renewals are on record.", "note",
        ),
        *mark(
            "tools", tools[at_odds], "opening_life_shots",
            "opening_life_shots {opening_life_shots} is more than opening_shots {opening_shots}, of which it is a part.",
            "Correct one of the two.", "note",
        ),
    ]  # fmt: skip
