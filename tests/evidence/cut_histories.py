"""The demo's plain tools, all their records and those up to a day: the same posterior by leaving out what came since."""

import datetime as dt
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np

from wearfit.demo.shipped import scenario_folder
from wearfit.exposures.build import build_exposures
from wearfit.exposures.live import LiveTools, build_live
from wearfit.exposures.table import Exposures
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.records.records import Records

# Two months before the last: weights without what came since have a tail of k .18 to .42 by four seeds, where .7 is the most. With a
# month more, .43 to .88: whether they could be relied on was luck.
DAY: Final = dt.date(2026, 4, 30)
NUMBER: Final = float(np.datetime64(DAY).astype(np.int64))


@dataclass(frozen=True)
class Cut:
    """All records, and those up to DAY, of tools that the two do not see otherwise."""

    whole: Exposures
    before: Exposures
    whole_live: LiveTools
    before_live: LiveTools


def _of(records: Records, tools: set[str]) -> Records:
    """Records of some tools, without readings: those would tell of what came later by what they were taken for."""
    tables = dict(records.tables)
    for name in ("tools", "runs", "events", "readings", "counter"):
        tables[name] = tables[name][tables[name]["tool_id"].isin(tools)]
    tables["readings"], tables["plan"] = tables["readings"].iloc[:0], tables["plan"].iloc[:0]
    return replace(records, tables=tables)


@cache
def cut_at_day() -> Cut:
    """Left out: tools of unknown class, steel or past; causes not stated; runs and intervals across the day; tools made since."""
    records = assemble(read(scenario_folder()).rows)
    records = records.as_of(records.latest_day)
    e = build_exposures(records)
    odd = set(e.candidates.tool[~e.candidates.known]) | set(e.episodes.tool[e.episodes.unstated])
    odd |= set(e.runs.tool[(e.runs.start <= NUMBER) & (e.runs.end > NUMBER)]) | set(np.flatnonzero(e.tools.commissioned > NUMBER))
    ends = np.minimum(e.episodes.worn_at, e.episodes.closes)
    odd |= set(e.episodes.tool[(e.episodes.last_good <= NUMBER) & (ends > NUMBER)])
    tools = {name for i, name in enumerate(e.tools.tool_id) if i not in odd}
    kept = _of(records, tools)
    early = _of(assemble(read(scenario_folder()).rows).as_of(DAY), tools)
    whole, before = build_exposures(kept), build_exposures(early)
    assert whole.tools.tool_id == before.tools.tool_id and whole.plant_ids == before.plant_ids
    assert whole.resins.resin_id == before.resins.resin_id and whole.tools.design_ids == before.tools.design_ids
    return Cut(whole, before, build_live(kept, whole), build_live(early, before))
