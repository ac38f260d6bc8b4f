"""`tool_marginal.tool_marginals` as an operation in a graph, and its gradient."""

import sys
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_default_op_cache_key

from wearfit.model import data, op_loops, tool_marginal
from wearfit.model.code_version import code_version
from wearfit.model.data import EndedColumns, RowColumns
from wearfit.model.likelihood import Terms
from wearfit.model.parameters import Parameters
from wearfit.model.tool_marginal import tool_marginals

Array = np.ndarray

CANDIDATE, ROW = RowColumns.candidate, EndedColumns.row
VERSION = code_version(data, op_loops, tool_marginal, sys.modules[__name__])


def candidate_marginals(terms: Terms, p: Parameters, spread: Any, d: Any) -> Any:
    """Log-likelihood of each candidate, its tool's effect integrated out, shape (candidate,).

    Parameters
    ----------
    terms
        From `likelihood.history_terms`, without tool effects.
    spread : (1,)
        From `likelihood.tool_spread`.
    """
    share = p.share_of("wear_share")
    node = ToolMarginals().make_node(terms.survived, terms.exact, terms.rise, share, spread, d.candidate, d.row, d.ended)
    return node.outputs[0]


def tool_marginals_back(
    of_value: Array,
    of_survived: Array,
    of_spread: Array,
    of_share: Array,
    of_exact: Array,
    of_rise: Array,
    row: Array,
    ended: Array,
) -> tuple[Array, Array, Array, Array, Array]:
    """Gradient by survived, exact, rise, share and spread, given that by the values and what `tool_marginals` returned."""
    by_survived, by_exact, by_rise = np.empty(len(row)), np.empty(len(ended)), np.empty(len(ended))
    by_share, by_spread = 0.0, 0.0
    for c in range(len(of_value)):
        by_share += of_value[c] * of_share[c]
        by_spread += of_value[c] * of_spread[c]
    for r in range(len(row)):
        c = int(row[r, CANDIDATE])
        by_survived[r] = of_value[c] * of_survived[c]
    for e in range(len(ended)):
        c = int(row[int(ended[e, ROW]), CANDIDATE])
        by_exact[e] = of_value[c] * of_exact[e]
        by_rise[e] = of_value[c] * of_rise[e]
    return by_survived, by_exact, by_rise, np.array([by_share]), np.array([by_spread])


class ToolMarginals(Op):
    """`tool_marginals` in a graph: the derivatives come with the value, for both are sums over the same nodes."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        candidates, ended = given[5].type.shape[0], given[7].type.shape[0]
        shapes = [(candidates,)] * 4 + [(ended,)] * 2
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, tool_marginals(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        return [(shapes[5][0],)] * 4 + [(shapes[7][0],)] * 2

    def connection_pattern(self, node: "Apply[Any]") -> list[list[bool]]:
        return [[True] + [False] * 5] * 5 + [[False] * 6] * 3

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        back = ToolMarginalsBack().make_node(cotangents[0], *outputs[1:], *inputs[6:])
        return [*back.outputs, *(disconnected_type() for _ in range(3))]


class ToolMarginalsBack(Op):
    """`tool_marginals_back` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        rows, ended = given[6].type.shape[0], given[7].type.shape[0]
        shapes = [(rows,), (ended,), (ended,), (1,), (1,)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, tool_marginals_back(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        one = (pt.constant(1),)
        return [(shapes[6][0],), (shapes[7][0],), (shapes[7][0],), one, one]


def _compile_marginals(op: ToolMarginals, **kwargs: Any) -> Any:
    return op_loops.compiled(tool_marginals), VERSION


def _compile_marginals_back(op: ToolMarginalsBack, **kwargs: Any) -> Any:
    return op_loops.compiled(tool_marginals_back), VERSION


register_funcify_default_op_cache_key(ToolMarginals)(_compile_marginals)
register_funcify_default_op_cache_key(ToolMarginalsBack)(_compile_marginals_back)
