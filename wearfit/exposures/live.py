"""The live tools as they stand at the as-of day, and the use that lies ahead of them."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.exposures.lives import Events
from wearfit.exposures.plan_ahead import spread_plan
from wearfit.exposures.plant_climate import LOG_CORROSIVITY_UNKNOWN
from wearfit.exposures.stood import YEAR
from wearfit.exposures.table import Exposures
from wearfit.exposures.timeline import Runs, positions
from wearfit.records.records import Records

Array = np.ndarray

STATUSES: Final = ("running", "idle", "stored", "worn", "held", "no_runs")
IDLE_AFTER_DAYS: Final = 90  # judgement: longer without a run than the usual pause between two orders
RECENT_MONTHS: Final = 24  # how far back recent use is looked at


@dataclass(frozen=True)
class LiveTools:
    """One row a live tool, in order of tool_id. Arrays of shape (live,) unless said otherwise."""

    tool: Array  # index into Tools
    episode: Array  # the episode under way
    status: Array  # index into STATUSES
    plant: Array  # index, -1 unknown
    modifications: Array  # since the last retool
    shots_this_life: Array  # recorded shots since the last renewal, known opening included; NaN where it cannot be reckoned
    setups_per_shot: Array
    recent_shots: Array  # (live, RECENT_MONTHS) shots in each month up to the as-of month, NaN before the tool came into use
    resin_share: Array  # (live, resin) of recent shots; zeros where nothing ran
    shots_per_month: Array  # as stated by the owner, NaN
    plan_shots: Array  # (live, plan month) from the as-of month on, NaN where nothing is planned
    plan_plant: Array  # (live, plan month) index, -1
    plan_resin: Array  # (live, plan month) index, -1
    lead_time_weeks: Array  # NaN where not stated
    replacement_due: Array  # [day] due day of a replacement on order, NaN
    replacement_cost: Array
    refurbish_cost: Array
    in_store: Array  # bool, whatever else it is
    store_preserved: Array  # 0..1
    store_log_corrosivity: Array  # natural log of the ratio to a conditioned hall
    stood_years: Array  # (live, 2) since its last shot: idle beyond what counts nothing, in store; nobody has looked what it took
    stood_preserved: Array  # (live, 2) mean over those years, 0..1; 0 where there are none
    stood_log_corrosivity: Array  # (live, 2)
    idle_from: Array  # [day] from which on idle time counts while it stays unused, NaN in store and before its first use
    read_from: Array  # [day] the first whose readings are of the episode under way
    renewals: Array  # behind that episode, partial ones too


def build_live(records: Records, exposures: Exposures) -> LiveTools:
    """State and expected use of every tool commissioned and not retired by the as-of day.

    Parameters
    ----------
    records : Records
        Cut at the as-of day; the plan may reach beyond it.
    exposures : Exposures
        Built from the same records.
    """
    frame = records.tables["tools"]
    runs, events = exposures.runs, exposures.events
    as_of = float(exposures.as_of.astype(np.int64))
    retired = np.zeros(len(frame), dtype=bool)
    retired[events.tool[events.of("retire")]] = True
    live = np.flatnonzero(~retired)
    episode = np.searchsorted(exposures.episodes.tool, live, side="right") - 1
    opens = exposures.episodes.opens[episode]
    last_run = np.full(len(frame), -np.inf)
    np.maximum.at(last_run, runs.tool, runs.end)
    plant = _plant_now(runs, events, positions(frame["plant_id"], exposures.plant_ids))
    recent = _recent_shots(runs, len(frame), as_of)
    share = _resin_share(runs, len(frame), len(exposures.resins.resin_id), as_of)
    setups, shots = (np.bincount(runs.tool, weights=w, minlength=len(frame)) for w in (runs.setups, runs.shots))
    plan = spread_plan(records, exposures, live, np.nan_to_num(recent).sum(axis=1)[live])
    return LiveTools(
        tool=live,
        episode=episode,
        status=_status(events, exposures, episode, last_run, as_of, live),
        plant=plant[live],
        modifications=_modifications(events, len(frame))[live],
        shots_this_life=_shots_this_life(exposures, runs, live, episode),
        setups_per_shot=(setups / np.maximum(shots, 1.0))[live],
        recent_shots=recent[live],
        resin_share=share[live],
        shots_per_month=frame["shots_per_month"].to_numpy(dtype=float)[live],
        plan_shots=plan.shots,
        plan_plant=plan.plant,
        plan_resin=plan.resin,
        lead_time_weeks=frame["lead_time_weeks"].to_numpy(dtype=float)[live],
        replacement_due=_on_order(events, len(frame))[live],
        replacement_cost=frame["replacement_cost"].to_numpy(dtype=float)[live],
        refurbish_cost=frame["refurbish_cost"].to_numpy(dtype=float)[live],
        in_store=exposures.standing.in_store[live],
        store_preserved=exposures.standing.store_preserved[live],
        store_log_corrosivity=_store_air(exposures)[live],
        **_stood_since(exposures, live, episode, last_run),
        idle_from=exposures.standing.idle_from[live],
        read_from=np.where(np.isneginf(opens), exposures.tools.commissioned[live], np.floor(opens) + 1.0),
        renewals=np.bincount(events.tool[events.closers], minlength=len(frame))[live],
    )


def _store_air(exposures: Exposures) -> Array:
    """Log corrosivity of each tool's store, shape (tool,); 0 where it is in none."""
    standing = exposures.standing
    air = np.append(exposures.climate.log_corrosivity, LOG_CORROSIVITY_UNKNOWN)[standing.store]
    return np.where(standing.in_store, air, 0.0)


def _stood_since(exposures: Exposures, live: Array, episode: Array, last_run: Array) -> dict[str, Array]:
    """How long each live tool has stood since its last shot, idle and in store, and in what air, shapes (live, 2)."""
    standing = exposures.standing
    row = np.full(len(last_run), -1)
    row[live] = np.arange(len(live))
    on = row[standing.tool]
    trailing = (on >= 0) & (standing.start >= last_run[standing.tool]) & (standing.episode == np.append(episode, -1)[on])
    at = on[trailing] * 2 + standing.stored[trailing]
    years = (standing.end - standing.start)[trailing] / YEAR
    air = np.append(exposures.climate.log_corrosivity, LOG_CORROSIVITY_UNKNOWN)[standing.plant[trailing]]

    def summed(values: Array) -> Array:
        return np.bincount(at, weights=values, minlength=2 * len(live)).reshape(-1, 2)

    in_all = summed(years)
    whole = np.where(in_all > 0.0, in_all, 1.0)
    return {
        "stood_years": in_all,
        "stood_preserved": summed(years * standing.preserved[trailing]) / whole,
        "stood_log_corrosivity": summed(years * air) / whole,
    }


def _plant_now(runs: Runs, events: Events, stated: Array) -> Array:
    """Plant of each tool: as stated, until a later move or run says otherwise."""
    moves = events.of("move")
    moves = moves[events.plant[moves] >= 0]
    tool = np.concatenate([runs.tool, events.tool[moves]])
    time = np.concatenate([runs.end, events.time[moves] + 0.5])  # a move on a run's last day comes after it
    where = np.concatenate([runs.plant, events.plant[moves]])
    order = np.lexsort((time, tool))
    plant = stated.copy()
    plant[tool[order]] = where[order]
    return plant


def _status(events: Events, exposures: Exposures, episode: Array, last_run: Array, as_of: float, live: Array) -> Array:
    def last_of(on: str, off: str) -> Array:
        state: Array = np.zeros(len(last_run), dtype=bool)
        for position in events.of(on, off):
            state[events.tool[position]] = events.kind[position] == on
        at_last: Array = state[live]
        return at_last

    status = np.where(as_of - last_run[live] > IDLE_AFTER_DAYS, STATUSES.index("idle"), STATUSES.index("running"))
    status = np.where(np.isneginf(last_run[live]), STATUSES.index("no_runs"), status)
    status = np.where(exposures.standing.in_store[live], STATUSES.index("stored"), status)
    status = np.where(np.isfinite(exposures.episodes.worn_at[episode]), STATUSES.index("worn"), status)
    status = np.where(last_of("hold", "release"), STATUSES.index("held"), status)
    return status


def _modifications(events: Events, n: int) -> Array:
    count = np.zeros(n, dtype=np.int64)
    for position in events.of("modify", "retool"):
        tool = events.tool[position]
        count[tool] = count[tool] + 1 if events.kind[position] == "modify" else 0
    return count


def _shots_this_life(exposures: Exposures, runs: Runs, live: Array, episode: Array) -> Array:
    """Shots since the last renewal, a known opening included, one that is reckoned not; NaN where nothing tells of it."""
    episodes, events, history = exposures.episodes, exposures.events, exposures.history
    life = episodes.life[episode]
    first_of_life = np.searchsorted(episodes.life, life, side="left")
    is_first = np.isneginf(episodes.opens[first_of_life])
    opener = np.where(is_first, -1, episodes.closer[first_of_life - 1])
    began, dated = np.full(len(exposures.tools.tool_id), np.inf), np.zeros(len(exposures.tools.tool_id), dtype=bool)
    began[live] = np.maximum(np.append(events.cut, -np.inf)[opener], exposures.past.from_day[live])
    dated[live] = np.append(events.cut == events.time, False)[opener]
    length = runs.end - runs.start + 1.0
    since = np.clip(runs.end + 1.0 - np.maximum(began[runs.tool], runs.start), 0.0, length)
    since = np.where(dated[runs.tool] & (began[runs.tool] == runs.end), 0.0, since)  # on a run's last day: after the run
    shots = np.bincount(runs.tool, weights=runs.shots * since / length, minlength=len(began))[live]
    reckoned = exposures.past.reckoned[live]
    entry = np.where(reckoned, 0.0, exposures.tools.entry_shots[live])
    with_opening = np.isin(life, episodes.life[history.source[history.cell_entry > history.cell_start]])
    shots = shots + np.where(with_opening, entry, 0.0)
    return np.where(is_first & np.isnan(entry), np.nan, shots)


def _recent_shots(runs: Runs, n: int, as_of: float) -> Array:
    """Shots of each tool in the last RECENT_MONTHS spans of a twelfth of a year, the latest last, shape (tool, RECENT_MONTHS)."""
    edges = as_of + 1.0 - (365.25 / 12.0) * np.arange(RECENT_MONTHS, -1, -1)
    out = np.zeros((n, RECENT_MONTHS))
    rate = runs.shots / (runs.end - runs.start + 1.0)
    for month in range(RECENT_MONTHS):
        overlap = np.minimum(runs.end + 1.0, edges[month + 1]) - np.maximum(runs.start, edges[month])
        out[:, month] = np.bincount(runs.tool, weights=rate * np.maximum(overlap, 0.0), minlength=n)
    first = np.full(n, np.inf)
    np.minimum.at(first, runs.tool, runs.start)
    out[edges[None, 1:] <= first[:, None]] = np.nan
    return out


def _resin_share(runs: Runs, n: int, resins: int, as_of: float) -> Array:
    """Share of each resin in a tool's recent shots, in all its shots where it had none, shape (tool, resin)."""
    recent, ever = np.zeros((n, resins)), np.zeros((n, resins))
    late = runs.end > as_of - 365.25 * RECENT_MONTHS / 12.0
    np.add.at(ever, (runs.tool, runs.resin), runs.shots)
    np.add.at(recent, (runs.tool[late], runs.resin[late]), runs.shots[late])
    used = np.where(recent.sum(axis=1, keepdims=True) > 0, recent, ever)
    return used / np.maximum(used.sum(axis=1, keepdims=True), 1e-12)


def _on_order(events: Events, n: int) -> Array:
    """Due day of the latest order that no retool or retirement has answered, NaN where there is none."""
    due = np.full(n, np.nan)
    for position in events.of("order", "retool", "retire"):
        due[events.tool[position]] = events.due[position] if events.kind[position] == "order" else np.nan
    return due
