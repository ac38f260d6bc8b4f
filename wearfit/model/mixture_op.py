"""`mixture.mix` as an operation in a graph, and its gradient."""

import sys
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_default_op_cache_key

from wearfit.model import data, mixture, op_loops
from wearfit.model.code_version import code_version
from wearfit.model.mixture import mix

Array = np.ndarray

VERSION = code_version(data, op_loops, mixture, sys.modules[__name__])


def mixed_log_likelihood(by_candidate: Any, d: Any) -> Any:
    """Log-likelihood of all tools, each mixed over what it may be, shape (1,)."""
    return MixCandidates().make_node(by_candidate, d.candidate).outputs[0]


class MixCandidates(Op):
    """`mix` in a graph: how likely each candidate is comes with the value, and is its gradient."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        outputs = [pt.TensorType("float64", shape=shape)() for shape in ((1,), (given[0].type.shape[0],))]
        return Apply(self, given, outputs)

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, mix(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        return [(pt.constant(1),), shapes[0]]

    def connection_pattern(self, node: "Apply[Any]") -> list[list[bool]]:
        return [[True, False], [False, False]]

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        return [cotangents[0] * outputs[1], disconnected_type()]


def _compile_mix(op: MixCandidates, **kwargs: Any) -> Any:
    return op_loops.compiled(mix), VERSION


register_funcify_default_op_cache_key(MixCandidates)(_compile_mix)
