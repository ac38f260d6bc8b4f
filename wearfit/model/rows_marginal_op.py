"""`rows_marginal.row_marginals` as an operation in a graph, and its gradient."""

import sys
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_default_op_cache_key

from wearfit import law
from wearfit.model import data, law_kernel, op_loops, rows_marginal, tool_marginal
from wearfit.model.code_version import code_version
from wearfit.model.likelihood import Levels
from wearfit.model.parameters import Parameters
from wearfit.model.rows_marginal import row_marginals
from wearfit.model.tool_marginal import CANDIDATE, ROW

Array = np.ndarray

VERSION = code_version(law, data, op_loops, law_kernel, rows_marginal, tool_marginal, sys.modules[__name__])


def candidate_marginals_of_law(levels: Levels, p: Parameters, spread: Any, wear_law: Any, d: Any) -> Any:
    """Log-likelihood of each candidate under the law at place `wear_law` (1,), its tool's effect integrated out, shape (candidate,).

    The rest as for `tool_marginal_op.candidate_marginals`; `levels` from `likelihood.history_levels`.
    """
    parts = (levels.entry, levels.last, levels.exact, levels.at, levels.end)
    return RowMarginals().make_node(*parts, p.share_of("wear_share"), spread, wear_law, d.candidate, d.row, d.ended).outputs[0]


def row_marginals_back(
    of_value: Array, of_entry: Array, of_last: Array, of_exact: Array, of_at: Array, of_end: Array, of_share: Array, of_spread: Array,
    row: Array, ended: Array,
) -> tuple[Array, Array, Array, Array, Array, Array, Array]:  # fmt: skip
    """Gradient by the first seven arguments of `row_marginals`, given that by the values and what it returned."""
    by_entry, by_last = np.empty(len(row)), np.empty(len(row))
    by_exact, by_at, by_end = np.empty(len(ended)), np.empty(len(ended)), np.empty(len(ended))
    by_share, by_spread = np.zeros(1), np.zeros(1)
    for c in range(len(of_value)):
        by_share[0] += of_value[c] * of_share[c]
        by_spread[0] += of_value[c] * of_spread[c]
    for r in range(len(row)):
        weight = of_value[int(row[r, CANDIDATE])]
        by_entry[r], by_last[r] = weight * of_entry[r], weight * of_last[r]
    for e in range(len(ended)):
        weight = of_value[int(row[int(ended[e, ROW]), CANDIDATE])]
        by_exact[e], by_at[e], by_end[e] = weight * of_exact[e], weight * of_at[e], weight * of_end[e]
    return by_entry, by_last, by_exact, by_at, by_end, by_share, by_spread


class RowMarginals(Op):
    """`row_marginals` in a graph: the derivatives come with the value, for both are sums over the same nodes."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        candidates, rows, ended = (given[i].type.shape[0] for i in (8, 9, 10))
        shapes = [(candidates,), (rows,), (rows,), (ended,), (ended,), (ended,), (candidates,), (candidates,)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, row_marginals(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        candidates, rows, ended = ((shapes[i][0],) for i in (8, 9, 10))
        return [candidates, rows, rows, ended, ended, ended, candidates, candidates]

    def connection_pattern(self, node: "Apply[Any]") -> list[list[bool]]:
        return [[True] + [False] * 7] * 7 + [[False] * 8] * 4

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        back = RowMarginalsBack().make_node(cotangents[0], *outputs[1:], *inputs[9:])
        return [*back.outputs, *(disconnected_type() for _ in range(4))]


class RowMarginalsBack(Op):
    """`row_marginals_back` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        rows, ended = given[8].type.shape[0], given[9].type.shape[0]
        shapes = [(rows,), (rows,), (ended,), (ended,), (ended,), (1,), (1,)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, row_marginals_back(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        rows, ended, one = (shapes[8][0],), (shapes[9][0],), (pt.constant(1),)
        return [rows, rows, ended, ended, ended, one, one]


def _compile_marginals(op: RowMarginals, **kwargs: Any) -> Any:
    return op_loops.compiled(row_marginals), VERSION


def _compile_marginals_back(op: RowMarginalsBack, **kwargs: Any) -> Any:
    return op_loops.compiled(row_marginals_back), VERSION


register_funcify_default_op_cache_key(RowMarginals)(_compile_marginals)
register_funcify_default_op_cache_key(RowMarginalsBack)(_compile_marginals_back)
