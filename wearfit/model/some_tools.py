"""Some tools of a history alone, as if the records spoke of no other: the same rows, under new numbers."""

from dataclasses import dataclass, fields, replace

import numpy as np

from wearfit.exposures.table import Candidates, Cells, Exposures, History, Noted, Tools
from wearfit.model.data import CandidateColumns, EndedColumns, ModelData, PathColumns, ReadingColumns, RowColumns, whole

Array = np.ndarray

OF_ALL = ("tool_id", "design_ids", "maker_ids")  # fields of `Tools` that are no arrays by tool
OF_PAIRS = ("row", "stop", "defect")  # fields of `Noted` by pair


@dataclass(frozen=True)
class _Numbers:
    """Which of some things are kept, and the new number of each; of those not kept it is of no meaning."""

    kept: Array  # bool
    new: Array

    @classmethod
    def of(cls, kept: Array) -> "_Numbers":
        return cls(kept, np.cumsum(kept) - 1)


def of_tools(exposures: Exposures, data: ModelData, chosen: Array) -> tuple[Exposures, ModelData]:
    """Some tools of a history, whose likelihood is then that of their own rows.

    Parameters
    ----------
    data : ModelData
        Prepared from `exposures`.
    chosen : array, shape (tool,)
        Bool.

    Returns
    -------
    Exposures, ModelData
        Tools, candidates, rows, cells, paths, readings and noted defects of those chosen; tables that tools share stand as they
        are, and so do runs, events and episodes, which nothing of the likelihood asks for by tool.
    """
    e = exposures
    tool = _Numbers.of(chosen)
    candidate = _Numbers.of(chosen[e.candidates.tool])
    row = _Numbers.of(candidate.kept[e.history.candidate])
    cell = _Numbers.of(row.kept[e.cells.episode])
    path = _Numbers.of(np.append(True, row.kept[data.path[1:, PathColumns.row].astype(np.int64)]))  # the first stands for none
    return _exposures(e, tool, candidate, row, cell), _data(data, tool, candidate, row, cell, path)


def _exposures(e: Exposures, tool: _Numbers, candidate: _Numbers, row: _Numbers, cell: _Numbers) -> Exposures:
    def cut(table: object, kept: Array, skipped: tuple[str, ...] = ()) -> dict[str, Array]:
        return {f.name: getattr(table, f.name)[kept] for f in fields(table) if f.name not in skipped}  # type: ignore[arg-type]

    names = tuple(name for name, kept in zip(e.tools.tool_id, tool.kept, strict=True) if kept)
    tools = Tools(tool_id=names, design_ids=e.tools.design_ids, maker_ids=e.tools.maker_ids, **cut(e.tools, tool.kept, OF_ALL))
    candidates = cut(e.candidates, candidate.kept)
    candidates["tool"] = tool.new[candidates["tool"]]
    history, before = cut(e.history, row.kept), np.append(0, np.cumsum(cell.kept))
    history["candidate"] = candidate.new[history["candidate"]]
    history["chain"] = row.new[history["chain"]]
    history |= {name: before[history[name]] for name in ("cell_start", "cell_entry", "cell_good", "cell_stop")}
    cells = cut(e.cells, cell.kept)
    cells["episode"] = row.new[cells["episode"]]
    defect, pair = _Numbers.of(tool.kept[e.noted.tool]), row.kept[e.noted.row]
    noted = cut(e.noted, defect.kept, OF_PAIRS) | {name: getattr(e.noted, name)[pair] for name in OF_PAIRS}
    noted["tool"], noted["row"] = tool.new[noted["tool"]], row.new[noted["row"]]
    noted["stop"], noted["defect"] = before[noted["stop"]], defect.new[noted["defect"]]
    return replace(
        e, tools=tools, candidates=Candidates(**candidates), history=History(**history), cells=Cells(**cells), noted=Noted(**noted)
    )


def _data(d: ModelData, tool: _Numbers, candidate: _Numbers, row: _Numbers, cell: _Numbers, path: _Numbers) -> ModelData:
    c, r, e, g = CandidateColumns, RowColumns, EndedColumns, ReadingColumns
    before = np.append(0, np.cumsum(cell.kept))
    candidates, rows = d.candidate[candidate.kept], d.row[row.kept]
    candidates[:, c.tool] = tool.new[whole(candidates[:, c.tool])]
    rows[:, r.candidate] = candidate.new[whole(rows[:, r.candidate])]
    rows[:, r.chain] = row.new[whole(rows[:, r.chain])]
    rows[:, r.boundaries] = before[whole(rows[:, r.boundaries])]
    rows[:, r.path] = path.new[whole(rows[:, r.path])]
    ended = d.ended[row.kept[whole(d.ended[:, e.row])]]
    ended[:, e.row] = row.new[whole(ended[:, e.row])]
    for column in (e.gain, e.loss):
        ended[:, column] = path.new[whole(ended[:, column])]
    paths = d.path[path.kept]
    paths[1:, PathColumns.row] = row.new[whole(paths[1:, PathColumns.row])]
    paths[0, PathColumns.row] = 0.0
    reading = d.reading[row.kept[whole(d.reading[:, g.row])]]
    reading[:, g.row], reading[:, g.path] = row.new[whole(reading[:, g.row])], path.new[whole(reading[:, g.path])]
    reading[:, g.stop] = before[whole(reading[:, g.stop])]
    return replace(d, candidate=candidates, cell=d.cell[cell.kept], row=rows, ended=ended, path=paths, reading=reading)
