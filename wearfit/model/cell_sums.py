"""Wear summed over the cells of each row: the one loop over cells in a gradient.

A PyTensor operation of its own, because the gathers, products and running sums that it stands for, and their gradients,
pass over the cells some thirty times.
"""

import sys
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_default_op_cache_key

from wearfit.model import data, op_loops
from wearfit.model.code_version import code_version
from wearfit.model.data import CellColumns, ReadingColumns, RowColumns

Array = np.ndarray

PLACE, JOB, SHOTS, SETUPS = CellColumns.place, CellColumns.job, CellColumns.shots, CellColumns.setups
VERSION = code_version(data, op_loops, sys.modules[__name__])
START = RowColumns.boundaries.start
ROW_READ, STOP = ReadingColumns.row, ReadingColumns.stop


def sum_cells(place: Array, job: Array, setup: Array, cell: Array, row: Array, reading: Array) -> tuple[Array, Array]:
    """Wear of each row from its start to its entry, its last good day and its end, (3, row); and to each reading, (reading,).

    Parameters
    ----------
    place, job : (place,), (job,)
        Wear per shot that each brings, as factors.
    setup : (1,)
        Shots that one set-up costs.
    cell, row, reading
        Tables of `ModelData`; boundaries of a row do not decrease, its cells are no other row's, and its readings lie among them.
    """
    worn, come = np.zeros((3, len(row))), np.zeros(len(cell))  # come: by the row, at each cell's end
    each = setup[0]
    for r in range(len(row)):
        total = 0.0
        for part in range(3):
            for c in range(int(row[r, START + part]), int(row[r, START + part + 1])):
                total += place[int(cell[c, PLACE])] * job[int(cell[c, JOB])] * (cell[c, SHOTS] + each * cell[c, SETUPS])
                come[c] = total
            worn[part, r] = total
    at = np.zeros(len(reading))
    for i in range(len(reading)):
        stop = int(reading[i, STOP])
        if stop > int(row[int(reading[i, ROW_READ]), START]):
            at[i] = come[stop - 1]
    return worn, at


def sum_cells_back(
    place: Array, job: Array, setup: Array, cell: Array, row: Array, reading: Array, of_worn: Array, of_at: Array
) -> tuple[Array, Array, Array]:
    """Gradient by `place`, `job` and `setup`, given that by the sums, shapes (3, row) and (reading,)."""
    of_place, of_job, of_setup = np.zeros(len(place)), np.zeros(len(job)), 0.0
    each, of_come = setup[0], np.zeros(len(cell))
    for i in range(len(reading)):
        stop = int(reading[i, STOP])
        if stop > int(row[int(reading[i, ROW_READ]), START]):
            of_come[stop - 1] += of_at[i]
    for r in range(len(row)):
        # From the row's end: a cell counts in its own part's sum, in those of the parts after it, and at the readings after it.
        weight = 0.0
        for part in range(2, -1, -1):
            weight += of_worn[part, r]
            for c in range(int(row[r, START + part + 1]) - 1, int(row[r, START + part]) - 1, -1):
                weight += of_come[c]
                at, doing = int(cell[c, PLACE]), int(cell[c, JOB])
                by_place, by_job, setups = weight * place[at], weight * job[doing], cell[c, SETUPS]
                amount = cell[c, SHOTS] + each * setups
                of_place[at] += by_job * amount
                of_job[doing] += by_place * amount
                of_setup += by_place * job[doing] * setups
    return of_place, of_job, np.array([of_setup])


class SumCells(Op):
    """`sum_cells` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        shapes: list[tuple[Any, ...]] = [(3, given[4].type.shape[0]), (given[5].type.shape[0],)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, sum_cells(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        return [(pt.constant(3), shapes[4][0]), (shapes[5][0],)]

    def connection_pattern(self, node: "Apply[Any]") -> list[list[bool]]:
        return [[True, True]] * 3 + [[False, False]] * 3

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        return [*SumCellsBack().make_node(*inputs, *cotangents).outputs, *(disconnected_type() for _ in range(3))]


class SumCellsBack(Op):
    """`sum_cells_back` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        return Apply(self, given, [i.type() for i in given[:3]])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, sum_cells_back(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        return list(shapes[:3])


def _compile_sum(op: SumCells, **kwargs: Any) -> Any:
    return op_loops.compiled(sum_cells), VERSION


def _compile_sum_back(op: SumCellsBack, **kwargs: Any) -> Any:
    return op_loops.compiled(sum_cells_back), VERSION


register_funcify_default_op_cache_key(SumCells)(_compile_sum)
register_funcify_default_op_cache_key(SumCellsBack)(_compile_sum_back)
