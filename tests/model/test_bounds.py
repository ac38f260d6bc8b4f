"""No index of the model's arrays can point astray: compiled code would read or write there."""

from dataclasses import fields, replace

import numpy as np
import pytest
from small_fleet import small_fleet

from wearfit.model.data import (
    CandidateColumns,
    CellColumns,
    EndedColumns,
    JobColumns,
    PlaceColumns,
    PlantColumns,
    RowColumns,
    check_bounds,
)
from wearfit.model.layout import Layout
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors

PRIORS = read_priors()
FLEET = small_fleet()
LAYOUT = layout_of(FLEET)
DATA = prepare(FLEET, PRIORS, LAYOUT)

ROW, ENDED = RowColumns, EndedColumns
INDICES: dict[str, tuple[int, ...]] = {
    "plant": tuple(range(PlantColumns.effect, PlantColumns.error.stop)),
    "place": (PlaceColumns.plant,),
    "job": tuple(range(JobColumns.index.start, JobColumns.index.stop)),
    "candidate": (
        *range(CandidateColumns.index.start, CandidateColumns.index.stop),
        CandidateColumns.tool,
    ),
    "cell": (CellColumns.place, CellColumns.job),
    "row": (ROW.candidate, ROW.chain, *range(2, 6), ROW.last_place, ROW.last_job, ROW.repeats),
    "ended": (ENDED.row,),
}
PLACES = [(name, column) for name, columns in INDICES.items() for column in columns]


@pytest.mark.parametrize(("name", "column"), PLACES)
def test_an_index_out_of_bounds_is_refused(name: str, column: int) -> None:
    for value in (-1.0, 1e9, np.nan):
        table = getattr(DATA, name).copy()
        table[-1, column] = np.inf if value == 1e9 and column == ROW.repeats and name == "row" else value
        with pytest.raises(ValueError, match="outside"):
            check_bounds(replace(DATA, **{name: table}), LAYOUT)


def test_the_first_index_out_of_bounds_is_refused() -> None:
    assert int(DATA.cell[:, CellColumns.job].max()) < len(DATA.job)
    table = DATA.cell.copy()
    table[0, CellColumns.job] = len(DATA.job)
    with pytest.raises(ValueError, match="cell's job"):
        check_bounds(replace(DATA, cell=table), LAYOUT)


def test_a_row_that_ends_before_it_starts_is_refused() -> None:
    table = DATA.row.copy()
    table[0, ROW.boundaries] = table[0, ROW.boundaries][::-1]
    with pytest.raises(ValueError, match="ends before it starts"):
        check_bounds(replace(DATA, row=table), LAYOUT)


@pytest.mark.parametrize(("name", "column"), [("row", ROW.candidate), ("ended", ENDED.row)])
def test_rows_out_of_order_are_refused(name: str, column: int) -> None:
    """The integral over a tool's effect takes a candidate's rows one after the other."""
    table = getattr(DATA, name).copy()
    table[:, column] = table[::-1, column]
    with pytest.raises(ValueError, match="out of order"):
        check_bounds(replace(DATA, **{name: table}), LAYOUT)


def test_candidates_out_of_order_or_without_a_weight_are_refused() -> None:
    for column, value, match in ((CandidateColumns.tool, 0.0, "out of order"), (CandidateColumns.log_weight, -np.inf, "weight")):
        table = DATA.candidate.copy()
        table[-1, column] = value
        with pytest.raises(ValueError, match=match):
            check_bounds(replace(DATA, candidate=table), LAYOUT)


@pytest.mark.parametrize("group", [f.name for f in fields(Layout)])
def test_a_bucket_too_small_is_refused(group: str) -> None:
    """A level beyond its bucket would share a parameter with one of the next group."""
    with pytest.raises(ValueError, match=group):
        prepare(FLEET, PRIORS, replace(Layout(16, 16, 16, 16), **{group: 4}))


def test_arrays_of_another_layout_are_refused() -> None:
    for group in ("plants", "resins", "designs"):
        with pytest.raises(ValueError, match=r"outside|has shape"):
            check_bounds(DATA, replace(LAYOUT, **{group: 32}))
