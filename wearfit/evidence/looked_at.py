"""Ways in which the pieces of lives are parted, to see whether more or fewer tools wore out in some part than was expected.

An entry of PARTINGS is one way: a new one is a function that gives names and, for each piece, which of them it is.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import Courses
from wearfit.exposures.classes import CLASSES, STEEL_GROUPS
from wearfit.exposures.places import recorded_places

Array = np.ndarray

THIRDS: Final = 3
UNKNOWN_CLASS: Final = "not known"


@dataclass(frozen=True)
class Parting:
    """One way to part the pieces.

    Parameters
    ----------
    by : str
        An entry of PARTINGS.
    names : tuple of str
        Of the parts.
    index : array, shape (piece,)
        Which part a piece is of, -1 for none.
    """

    by: str
    names: tuple[str, ...]
    index: Array


@dataclass(frozen=True)
class Seen:
    """What a parting may look at."""

    b: Believed
    courses: Courses
    weight: Array  # (piece,) wear-outs expected, by which thirds are even

    def thirds(self, value: Array, digits: str) -> tuple[tuple[str, ...], Array]:
        """Parts of a measure that are even by what was expected; a measure of few values is parted at those."""
        known = np.isfinite(value)
        order = np.argsort(value[known], kind="stable")
        come = np.cumsum(self.weight[known][order])
        if not len(come) or come[-1] <= 0.0:
            return (), np.full(len(value), -1)
        edges = np.unique(value[known][order][np.searchsorted(come, come[-1] * np.arange(1, THIRDS) / THIRDS)])
        edges = edges[edges < value[known].max()]
        by_text = {f"{edge:{digits}}": edge for edge in edges}  # two that read alike are one
        told, edges = list(by_text), np.array(list(by_text.values()))
        between = [f"{low} to {high}" for low, high in itertools.pairwise(told)]
        names = (f"up to {told[0]}", *between, f"over {told[-1]}") if told else ()
        return names, np.where(known, np.searchsorted(edges, np.nan_to_num(value), side="left"), -1)


def _class(s: Seen) -> tuple[tuple[str, ...], Array]:
    of_tool = s.b.exposures.tools.service_class[s.courses.tool]
    return (*CLASSES, UNKNOWN_CLASS), np.where(of_tool < 0, len(CLASSES), of_tool)


def _plant(s: Seen) -> tuple[tuple[str, ...], Array]:
    return tuple(s.b.exposures.plant_ids), s.courses.plant


def _month(s: Seen) -> tuple[tuple[str, ...], Array]:
    return tuple(str(m + 1) for m in range(12)), s.courses.month % 12


def _year(s: Seen) -> tuple[tuple[str, ...], Array]:
    year = 1970 + s.courses.month // 12
    years, index = np.unique(year, return_inverse=True)
    return tuple(str(y) for y in years), index.ravel()


def _maker(s: Seen) -> tuple[tuple[str, ...], Array]:
    return tuple(s.b.exposures.tools.maker_ids), s.b.exposures.tools.maker[s.courses.tool]


def _steel(s: Seen) -> tuple[tuple[str, ...], Array]:
    candidates = s.b.exposures.candidates
    first = np.searchsorted(candidates.tool, s.courses.tool, side="left")
    return STEEL_GROUPS, candidates.steel_group[first]


def _counted(n: Array, most: int) -> tuple[tuple[str, ...], Array]:
    return (*(str(i) for i in range(most)), f"{most} or more"), np.minimum(n, most)


def _modifications(s: Seen) -> tuple[tuple[str, ...], Array]:
    return _counted(s.courses.modifications, 2)


def _refurbishments(s: Seen) -> tuple[tuple[str, ...], Array]:
    return _counted(s.b.exposures.episodes.repeat[s.courses.episode], 2)


def _earlier_lives(s: Seen) -> tuple[tuple[str, ...], Array]:
    e = s.b.exposures.episodes
    first = np.searchsorted(e.tool, s.courses.tool, side="left")
    return _counted(e.life[s.courses.episode] - e.life[first], 2)


def _filler(s: Seen) -> tuple[tuple[str, ...], Array]:
    resins = s.b.exposures.resins
    filler = np.append(np.where(resins.described, 10.0 * resins.filler, np.nan), np.nan)[s.courses.resin]
    return s.thirds(np.round(filler, 1), ".0f")


def _corrosive(s: Seen) -> tuple[tuple[str, ...], Array]:
    resins = s.b.exposures.resins
    value = np.append(np.where(resins.described, resins.corrosive, -1.0), -1.0)[s.courses.resin]
    return ("no", "yes"), value.astype(np.int64)


def _speed(s: Seen) -> tuple[tuple[str, ...], Array]:
    value = np.append(s.b.exposures.runs.speed, np.nan)[s.courses.run]
    return ("slower than usual", "as usual", "faster than usual"), np.where(np.isnan(value), -1, np.digitize(value, [-0.05, 0.05]))


def _sweating(s: Seen) -> tuple[tuple[str, ...], Array]:
    climate, c = s.b.exposures.climate, s.courses
    departure = recorded_places(np.maximum(c.plant, 0), c.month, climate).months.sweating
    level = climate.sweating_season.mean(axis=1)[np.maximum(c.plant, 0)] if len(climate.sweating_season) else np.zeros(len(c.plant))
    share = np.round(np.clip(100.0 * (level + departure), 0.0, 100.0))
    return s.thirds(np.where((c.plant >= 0) & (c.run >= 0), share, np.nan), ".0f")


def _corrosivity(s: Seen) -> tuple[tuple[str, ...], Array]:
    value = np.append(np.exp(s.b.exposures.climate.log_corrosivity), np.nan)[s.courses.plant]
    return s.thirds(value, ".2g")


def _cavities(s: Seen) -> tuple[tuple[str, ...], Array]:
    return s.thirds(s.b.exposures.tools.cavities[s.courses.tool], ".0f")


def _age(s: Seen) -> tuple[tuple[str, ...], Array]:
    """Shots of the life so far, in lives of its band; of lives whose shots before the records are known."""
    share = 100.0 * life_shots(s.b, s.courses) / np.exp(s.b.log_band)[s.courses.tool]
    return s.thirds(share, ".0f")


def _measured(s: Seen) -> tuple[tuple[str, ...], Array]:
    h, read = s.b.exposures.history, np.zeros(len(s.b.exposures.episodes.tool), dtype=np.int64)
    read[h.source[np.unique(s.b.exposures.readings.row)]] = 1
    return ("no", "yes"), read[s.courses.episode]


PARTINGS: Final[dict[str, Callable[[Seen], tuple[tuple[str, ...], Array]]]] = {
    "class": _class,
    "plant": _plant,
    "month": _month,
    "year": _year,
    "age": _age,
    "filler": _filler,
    "corrosive": _corrosive,
    "sweating": _sweating,
    "corrosivity": _corrosivity,
    "speed": _speed,
    "modifications": _modifications,
    "refurbishments": _refurbishments,
    "earlier_lives": _earlier_lives,
    "steel": _steel,
    "maker": _maker,
    "cavities": _cavities,
    "measured": _measured,
}


def seen_by(b: Believed, courses: Courses) -> Seen:
    """What partings that need no weight may look at."""
    return Seen(b, courses, np.ones(len(courses.tool)))


def look_at(b: Believed, courses: Courses, weight: Array) -> tuple[Parting, ...]:
    """All partings in which something was expected; `weight` (piece,) is what was, in the mean."""
    seen = Seen(b, courses, weight)
    found = []
    for by, parted in PARTINGS.items():
        names, index = parted(seen)
        of_part = np.bincount(index[index >= 0], weights=weight[index >= 0], minlength=len(names))
        there = np.flatnonzero(of_part > 0.0)
        if len(there) > (0 if by in ("class", "plant") else 1):  # one part is all of it, which is looked at anyway
            place = np.full(len(names) + 1, -1)
            place[there] = np.arange(len(there))
            found.append(Parting(by, tuple(names[i] for i in there), place[index]))
    return tuple(found)


def life_shots(b: Believed, courses: Courses) -> Array:
    """Shots that the life had behind it at the end of each piece, shape (piece,); NaN where its age at entry is not on record."""
    e = b.exposures
    life = e.episodes.life[courses.episode]
    run_up = np.cumsum(courses.shots)
    first = np.searchsorted(life, life, side="left")
    made = run_up - np.concatenate([[0.0], run_up])[first]
    # Known shots before the records are part of the life that the first recorded run continues.
    openings = (e.cells.part == 0) & e.known_entry[e.history.source[e.cells.episode]]
    before = np.zeros(int(e.episodes.life.max(initial=-1)) + 1)
    candidates_first = np.unique(e.history.source, return_index=True)[1]
    mine = openings & np.isin(e.cells.episode, candidates_first)
    np.add.at(before, e.episodes.life[e.history.source[e.cells.episode[mine]]], e.cells.shots[mine])
    return np.asarray(np.where(e.known_entry[courses.episode], made + before[life], np.nan))
