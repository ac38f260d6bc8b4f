"""Defects that somebody noted after a run, some by wear and the others by the settings, with the truth of which is which."""

from dataclasses import dataclass

import numpy as np

from wearfit.demo.career import Career
from wearfit.demo.walk import Row, iso

POWER = 2.0  # of the share of its life's capacity that a tool has used, to which the rate of defects by wear is in proportion


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of defect: how much of all notes it makes up, and of its notes over whole lives those by wear."""

    share: float
    by_wear: float
    words: tuple[str, ...]  # the same for either cause: nobody who notes a defect knows it


KINDS = (
    Kind(0.20, 0.75, ("flash at the parting line, same spot as last run", "sharp flash growing at cavity 2", "flash at the core pin")),
    Kind(0.08, 0.20, ("flash all over on the first shots", "flash everywhere after set-up")),
    Kind(0.10, 0.35, ("burn marks at the end of fill", "dieseling in the deep ribs")),
    Kind(0.10, 0.20, ("short shots", "short shots in cavity 3")),
    Kind(0.10, 0.15, ("sink marks over the bosses", "lid warped")),
    Kind(0.12, 0.70, ("diameter drifting, dimension over nominal", "gate vestige too long")),
    Kind(0.12, 0.65, ("texture faded at the gate side", "gloss patch on the front, loss of gloss")),
    Kind(0.10, 0.60, ("drag marks on ejection", "parts sticking in the core")),
    Kind(0.08, 0.05, ("splay and specks", "weld lines visible", "colour streaks")),
)
HEALTHY = ("stripped, cleaned and greased", "no flash, no burn marks", "flash gone after cleaning the parting line")


@dataclass(frozen=True, slots=True)
class NotedDefect:
    """A noted defect as it truly is."""

    row: Row  # of the events
    by_wear: bool

    def as_dict(self) -> dict[str, str | bool]:
        return {"tool_id": self.row["tool_id"], "date": self.row["date"], "note": self.row["note"], "by_wear": self.by_wear}


def take_notes(career: Career, rate: float, rng: np.random.Generator) -> tuple[list[Row], list[NotedDefect]]:
    """Services of one tool that carry a note, and those among them that tell of a defect.

    Parameters
    ----------
    rate : float
        Noted defects a run, over whole lives; as many notes again find nothing.

    Notes
    -----
    By the settings they come at an even rate, by wear at one that grows as (POWER + 1) x^POWER, x the share of the life's
    capacity that is spent: its mean over a life is one.
    """
    shares = np.array([kind.share for kind in KINDS])
    wear = np.array([kind.by_wear for kind in KINDS])
    serviced = {row["date"] for row in career.events if row["event"] == "service"}
    rows: list[Row] = []
    noted: list[NotedDefect] = []
    for check in career.checks:
        grown = (POWER + 1.0) * (check.spent / check.capacity) ** POWER
        rates = rate * np.concatenate([shares * wear * grown, shares * (1.0 - wear), [1.0]])
        draw, word = float(rng.random()), int(rng.integers(1 << 30))
        which = int(np.searchsorted(np.cumsum(rates), draw, side="right"))
        if which == len(rates) or iso(check.day) in serviced:
            continue
        words = HEALTHY if which == 2 * len(KINDS) else KINDS[which % len(KINDS)].words
        row = {"tool_id": career.tool.tool_id, "date": iso(check.day), "event": "service", "note": words[word % len(words)]}
        rows.append(row)
        if which < 2 * len(KINDS):
            noted.append(NotedDefect(row, which < len(KINDS)))
    return rows, noted
