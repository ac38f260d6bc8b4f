"""`row_terms.row_terms` as an operation in a graph, and its gradient."""

import sys
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import DisconnectedType, disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_default_op_cache_key

from wearfit import law
from wearfit.model import data, likelihood, op_loops, row_terms
from wearfit.model.code_version import code_version
from wearfit.model.likelihood import Clock, Terms
from wearfit.model.parameters import Parameters
from wearfit.model.readings import Told

Array = np.ndarray

VERSION = code_version(data, law, likelihood, op_loops, row_terms, sys.modules[__name__])
MOVING = 10  # arguments by which there is a gradient; the tables of `ModelData` come after them


def weibull_terms(p: Parameters, clock: Clock, log_eta: Any, told: Told, d: Any) -> Terms:
    """`likelihood.history_terms` in a graph, of the Weibull law and without the effects of tools."""
    node = RowTerms().make_node(
        clock.entry, clock.good, clock.end, clock.log_last, log_eta, p.coefficient("log_shape"), p.share_of("wear_share"),
        told.capacity, told.log_stretch, told.log_likelihood, d.row, d.ended,
    )  # fmt: skip
    return Terms(*node.outputs[:3])


class RowTerms(Op):
    """`row_terms.row_terms` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        rows, ended = given[-2].type.shape[0], given[-1].type.shape[0]
        shapes = [(rows,), (ended,), (ended,), (rows, 2), (ended, 2)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, row_terms.row_terms(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        rows, ended, two = shapes[-2][0], shapes[-1][0], pt.constant(2)
        return [(rows,), (ended,), (ended,), (rows, two), (ended, two)]

    def connection_pattern(self, node: "Apply[Any]") -> list[list[bool]]:
        return [[True] * 3 + [False] * 2] * MOVING + [[False] * 5] * 2

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        of = [pt.zeros_like(o) if isinstance(c.type, DisconnectedType) else c for o, c in zip(outputs, cotangents, strict=True)]
        back = RowTermsBack().make_node(*inputs, *outputs[2:], *of[:3])
        return [*back.outputs, disconnected_type(), disconnected_type()]


class RowTermsBack(Op):
    """`row_terms.row_terms_back` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        return Apply(self, given, [i.type() for i in given[:MOVING]])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, row_terms.row_terms_back(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        return list(shapes[:MOVING])


def _compile_terms(op: RowTerms, **kwargs: Any) -> Any:
    return op_loops.compiled(row_terms.row_terms), VERSION


def _compile_terms_back(op: RowTermsBack, **kwargs: Any) -> Any:
    return op_loops.compiled(row_terms.row_terms_back), VERSION


register_funcify_default_op_cache_key(RowTerms)(_compile_terms)
register_funcify_default_op_cache_key(RowTermsBack)(_compile_terms_back)
