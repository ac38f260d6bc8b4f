"""Whether the records are what the calibration believes: what is looked at, and the answer as a document."""

from typing import Any, Final

import numpy as np

from wearfit.evidence.believed_draws import Believed
from wearfit.evidence.courses import build_courses
from wearfit.evidence.expected import expect
from wearfit.evidence.looked_at import look_at
from wearfit.evidence.misfit import ALL, Check, check
from wearfit.evidence.product_limit import Curve, curves
from wearfit.exposures.lives import INTERVAL
from wearfit.exposures.table import Exposures

CURVED: Final = ("class", "plant")
DIGITS: Final = 6


def fit_report(b: Believed, seed: int) -> dict[str, Any]:
    """Set the lives of a history against what is believed of them.

    Returns
    -------
    dict
        `checks`, the whole first; `limit`, the chance under which one is told; `curves`; and what was counted how.
    """
    courses = build_courses(b)
    x = expect(b, courses, seed)
    partings = look_at(b, courses, x.expected.mean(axis=0))
    looked = check(x, partings, seed)
    return {
        "draws": len(b.tool_scale),
        "limit": looked.limit,
        "looked_at": sum(c.by != ALL for c in looked.checks) + 1,
        "checks": [_check(c) for c in looked.checks],
        "curves": [_curve(c) for p in partings if p.by in CURVED for c in curves(b, courses, x, p, seed)],
        "counted": counted(b.exposures),
    }


def _check(c: Check) -> dict[str, Any]:
    return {
        "by": c.by, "name": c.name, "observed": round(c.observed, DIGITS), "expected": round(c.expected, DIGITS), "low": c.low,
        "high": c.high, "p": c.p, "told": c.told,
    }  # fmt: skip


def _curve(c: Curve) -> dict[str, Any]:
    points = [
        {name: round(float(getattr(c, name)[i]), DIGITS) for name in ("shots", "observed", "expected", "low", "high", "at_risk")}
        for i in range(len(c.shots))
    ]
    return {"by": c.by, "name": c.name, "lives": c.lives, "worn": round(c.worn, DIGITS), "points": points}


def counted(e: Exposures) -> dict[str, int]:
    """How many lives were counted, how, and how many were left out.

    Returns
    -------
    dict
        `lives` looked at; `left_out`, whose age is not known and cannot be reckoned; `reckoned`, whose age at entry is weighed
        (they have no place in the curves); `open_tools`, of which class, steel or age is not known; `unstated` renewals; wear-outs
        `between` two days; `measured` lives; `planned` renewals.
    """
    used = np.unique(e.history.source)
    rows = np.unique(e.readings.row)
    open_tools = np.unique(e.candidates.tool[~e.candidates.known])
    planned = (e.events.cause == "planned") & np.isin(e.events.kind, ("refurbish", "retool", "retire"))
    return {
        "lives": len(np.unique(e.episodes.life[used])),
        "left_out": e.lives - len(np.unique(e.episodes.life[used])),
        "reckoned": len(np.unique(e.episodes.life[used[~e.known_entry[used]]])),
        "open_tools": int(np.isin(open_tools, e.episodes.tool[used]).sum()),
        "unstated": int(e.episodes.unstated[used].sum()),
        "between": int(((e.episodes.ending[used] == INTERVAL) & ~e.episodes.unstated[used]).sum()),
        "measured": len(np.unique(e.history.source[rows])),
        "planned": int(planned.sum()),
    }
