"""What each tool may be, where the records leave its service class, its steel or its past open."""

import numpy as np

from wearfit.exposures.classes import BANDED, OWN_BAND, POSSIBLE_STEELS, STEELS, USUAL_STEEL, steel_code, steel_group
from wearfit.exposures.past import OPENINGS, OPENINGS_OF_UNKNOWN_CLASS
from wearfit.exposures.table import Candidates, Tools
from wearfit.records.coatings import COATINGS

Array = np.ndarray

STAINLESS = steel_code("stainless")
POSSIBLE = tuple(tuple(sorted(map(steel_code, names))) for names in POSSIBLE_STEELS)


def build_candidates(tools: Tools, reckoned: Array, corroded: Array) -> Candidates:
    """All that is weighed of each tool.

    Parameters
    ----------
    reckoned : bool array, shape (tool,)
        Whether the age at entry is weighed.
    corroded : bool array, shape (tool,)
        Whether the tool ran a corrosive resin. Elsewhere a stainless steel wears as a hard one, and is not weighed beside it.

    Returns
    -------
    Candidates
        One row for a tool of which all is known. An unknown class makes BANDED of it, each in its usual steel; an unknown steel
        one for each steel that the class may be cut in; an unknown past OPENINGS (OPENINGS_OF_UNKNOWN_CLASS) of each of these.

    Notes
    -----
    All episodes of a tool share a candidate, so that what is not known of it is the same all its life. The steel of a
    tool of unknown class is not varied beside the class: how long the classes last differs far more.
    """
    tool, service_class, steel, opening = [], [], [], []
    for t, of_class in enumerate(tools.service_class):
        openings = range(OPENINGS if of_class >= 0 else OPENINGS_OF_UNKNOWN_CLASS) if reckoned[t] else (-1,)
        for c in (int(of_class),) if of_class >= 0 else range(BANDED):
            for s in _steels(int(tools.usual_class[t]) if c == OWN_BAND else c, int(tools.steel[t]), of_class >= 0, bool(corroded[t])):
                for o in openings:
                    tool.append(t)
                    service_class.append(c)
                    steel.append(s)
                    opening.append(o)
    of_tool, classes, steels = (np.array(column, dtype=np.int64) for column in (tool, service_class, steel))
    usual_class = np.where(classes == OWN_BAND, tools.usual_class[of_tool], classes)
    usual = np.array([steel_code(USUAL_STEEL[c]) if c >= 0 else steel_code("prehard") for c in usual_class], dtype=np.int64)
    # A band written for this very tool already counts its steel, and what that is coated with.
    own = (classes == OWN_BAND) & (tools.usual_class[of_tool] < 0)
    usual = np.where(own, steels, usual)
    coated = tools.coating[of_tool]
    group = np.array([[steel_group(s, c) for c in (*COATINGS, "")] for s in STEELS])[steels, coated]
    known = (np.bincount(of_tool, minlength=len(tools.tool_id)) == 1)[of_tool]
    return Candidates(of_tool, classes, steels, usual, group, np.where(own, -1, coated), np.array(opening, dtype=np.int64), known)


def _steels(service_class: int, recorded: int, class_known: bool, corroded: bool) -> tuple[int, ...]:
    """Steels that a tool of some class may be cut in; `service_class` -1 is a band of the tool's own without a class."""
    if recorded >= 0:
        return (recorded,)
    if service_class < 0:
        return (steel_code("prehard"),)
    if not class_known:
        return (steel_code(USUAL_STEEL[service_class]),)
    return tuple(s for s in POSSIBLE[service_class] if corroded or s != STAINLESS)
