"""How a plant writes down a run: in shots or in parts, in one row or two."""

from wearfit.demo.walk import Row, Walk, iso

ASSUMED_YIELD = 0.97  # good parts of all, where scrap is not written down
BLOCKED_SHARE = 0.25  # runs in parts with a cavity blocked


def write_run(walk: Walk, resin_id: str, start: int, days: int, shots: int, setups: int) -> None:
    """Append the rows of one run of `days` days from `start`. Set-ups are written where they are not one."""
    habits, tool = walk.world.settings.habits, walk.tool
    cells: Row = {} if setups == 1 else {"setups": str(setups)}
    if walk.chance(0.3):
        cells["cycle_time_s"] = f"{tool.cycle_time_s:g}"
    if setups == 1 and days >= 8 and walk.chance(habits.continued_share):
        first_days = walk.days(3, days - 3)
        first_shots = shots * first_days // days
        _append(walk, resin_id, start, first_days, {**cells, "shots": str(first_shots)})
        _append(walk, resin_id, start + first_days, days - first_days, {**cells, "shots": str(shots - first_shots)})
    elif walk.chance(habits.parts_share):
        _append(walk, resin_id, start, days, {**cells, **_in_parts(walk, shots)})
    else:
        _append(walk, resin_id, start, days, {**cells, "shots": str(shots)})


def _in_parts(walk: Walk, shots: int) -> Row:
    """The run in good parts, now and then with a cavity blocked or the scrap left out."""
    active = walk.tool.cavities
    cells: Row = {}
    if active > 1 and walk.chance(BLOCKED_SHARE):
        active -= 1
        cells["active_cavities"] = str(active)
    mouldings = shots * active
    if walk.chance(0.3):
        return {**cells, "parts": str(round(mouldings * ASSUMED_YIELD))}
    scrap = int(mouldings * walk.rng.uniform(0.01, 0.05))
    return {**cells, "parts": str(mouldings - scrap), "scrap_parts": str(scrap)}


def _append(walk: Walk, resin_id: str, start: int, days: int, cells: Row) -> None:
    walk.runs.append(
        {
            "tool_id": walk.tool.tool_id,
            "plant_id": walk.plant_id,
            "resin_id": resin_id,
            "started_on": iso(start),
            "ended_on": iso(start + days - 1),
            **cells,
        }
    )
