"""What a tool's lives came to on the wear clock, where its wear came from, and what moved its forecast."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from wearfit.calibration import Calibration
from wearfit.exposures.lives import CENSORED
from wearfit.forecasts.quantiles import Quantiles, as_numbers, weighted_quantiles
from wearfit.forecasts.wear_spent import WearSpent
from wearfit.workflow.wording import day_in_words

if TYPE_CHECKING:
    from wearfit.workflow.recorded import Recorded

Array = np.ndarray

IN_STORE: Final = "in store or idle"
WORTH_TELLING: Final = 0.05  # of the log of what is left; less moved nothing that a reader would act on, judgement


@dataclass(frozen=True)
class Life:
    """One life of the tool.

    Parameters
    ----------
    number : int
        From 1.
    began, ended : str or None
        ISO days; None where it began before the records, or goes on.
    ending : str
        How it ended, in words.
    shots : float or None
        Recorded, a known opening included; None where nothing tells of its age.
    reckoned : bool
        Whether more shots were made before its records, which are reckoned and not among `shots`.
    wear : Quantiles or None
        Where the clock stood at its end, what was carried over from the life before included. [reference shots]
    share : Quantiles or None
        The same over the tool's characteristic life.
    """

    number: int
    began: str | None
    ended: str | None
    ending: str
    shots: float | None
    reckoned: bool
    wear: Quantiles | None
    share: Quantiles | None


@dataclass(frozen=True)
class Source:
    """Where a part of the wear on the clock came from.

    Parameters
    ----------
    name : str
        A plant or a resin, or in words what it was.
    shots : float
        Recorded there since the surface was last new; 0 where the tool stood.
    wear : Quantiles
        What is left of it on the clock. [reference shots]
    share : Quantiles
        Of all that is on the clock.
    """

    name: str
    shots: float
    wear: Quantiles
    share: Quantiles


@dataclass(frozen=True)
class Moved:
    """What moved the forecast, in words, and by which factor on the life that is left."""

    what: str
    factor: float


def lives_of(
    recorded: "Recorded", calibration: Calibration, spent: WearSpent, live: int, tool: str
) -> tuple[tuple[Life, ...], tuple[float, ...]]:
    """The tool's lives in order, and the days on which they began."""
    exposures = recorded.exposures
    episodes, cells = exposures.episodes, exposures.cells
    of_tool = exposures.tools.tool_id.index(tool)
    own = np.flatnonzero(episodes.tool == of_tool)
    eta = np.asarray(calibration.draws.characteristic_life[:, live], dtype=float)
    episode_of_cell = exposures.history.source[cells.episode[spent.cell]]
    lives, opens = [], []
    for number, life in enumerate(np.unique(episodes.life[own]), start=1):
        parts = own[episodes.life[own] == life]
        first, last = parts[0], parts[-1]
        rows = np.flatnonzero(np.isin(spent.episode, parts))
        inside = np.isin(episode_of_cell, parts)
        unknown = inside & spent.reckoned
        wear = spent.at_end[:, rows[-1]] if len(rows) else None
        began = episodes.opens[first] if np.isfinite(episodes.opens[first]) else exposures.tools.commissioned[of_tool]
        opens.append(float(began))
        lives.append(
            Life(
                number=number,
                began=_iso_of_day(began),
                ended=_iso_of_day(episodes.closes[last]),
                ending=_ending(recorded, int(last), parts),
                shots=float(cells.shots[spent.cell][inside & ~unknown].sum()) if len(rows) else None,
                reckoned=bool(unknown.any()),
                wear=None if wear is None else _quantiles(wear),
                share=None if wear is None else _quantiles(wear / eta),
            )
        )
    return tuple(lives), tuple(opens)


def _ending(recorded: "Recorded", last: int, parts: Array) -> str:
    """How a life ended, in words."""
    episodes, events = recorded.exposures.episodes, recorded.exposures.events
    worn = episodes.worn_at[parts].min()
    closer = int(episodes.closer[last])
    if closer < 0 or not np.isfinite(episodes.closes[last]):
        return f"worn out on {_said(worn)}, not renewed" if np.isfinite(worn) else "under way"
    kind, cause = str(events.kind[closer]), str(events.cause[closer])
    then = {"retool": "new cavity set", "refurbish": "refurbished", "retire": "retired"}.get(kind, kind)
    if np.isfinite(worn):
        return f"worn out on {_said(worn)}; {then}"
    why = {
        "wear": "worn out",
        "damage": "damaged",
        "planned": "ahead of wear",
        "obsolete": "no longer needed",
        "design_change": "for a change of design",
        "": "cause not stated" if kind == "retire" or episodes.ending[last] == CENSORED else "cause not stated, perhaps worn",
    }.get(cause, cause)
    return f"{then}: {why}"


def sources_of(recorded: "Recorded", spent: WearSpent, of_cell: Array, names: tuple[str, ...], nameless: str) -> tuple[Source, ...]:
    """Where the wear on the clock came from, largest first.

    Parameters
    ----------
    of_cell : array, shape (cell,)
        Index of each cell of `spent` among `names`, -1 for none.
    nameless : str
        What such cells are called.
    """
    cells = recorded.exposures.cells
    total = spent.left.sum(axis=1)
    on_clock = spent.left.any(axis=0) if len(spent.cell) else np.zeros(0, dtype=bool)
    label = np.where(spent.stood, IN_STORE, np.where(of_cell >= 0, np.array([*names, ""])[of_cell], nameless))
    found = []
    for name in np.unique(label[on_clock]):
        mine = on_clock & (label == name)
        wear = spent.left[:, mine].sum(axis=1)
        shots = float(cells.shots[spent.cell[mine & ~spent.reckoned]].sum())
        found.append(Source(str(name), shots, _quantiles(wear), _quantiles(wear / np.maximum(total, 1e-12))))
    return tuple(sorted(found, key=lambda source: -(source.wear["p50"] or 0.0)))


def moved_of(calibration: Calibration, live: int) -> tuple[Moved, ...]:
    """What moved the forecast of a live tool by as much as a reader would act on, most first."""
    table = calibration.live
    said = (
        ("its readings, against what its shots alone would say", table.moved_by_readings[live]),
        ("what its history says of a cavity steel that is not on record", table.moved_by_steel[live]),
        ("what its history says of the shots before its records", table.moved_by_past[live]),
        ("time in store and idle", table.moved_by_storage[live]),
    )
    moved = [Moved(what, float(np.exp(log))) for what, log in said if np.isfinite(log) and abs(log) >= WORTH_TELLING]
    return tuple(sorted(moved, key=lambda m: -abs(np.log(m.factor))))


def _quantiles(values: Array) -> Quantiles:
    return as_numbers(weighted_quantiles(values[:, None], np.ones((len(values), 1)))[:, 0])


def _said(day: float) -> str:
    return day_in_words(str(_iso_of_day(day)))


def _iso_of_day(day: float) -> str | None:
    return str(np.datetime64(int(np.floor(day)), "D")) if np.isfinite(day) else None
