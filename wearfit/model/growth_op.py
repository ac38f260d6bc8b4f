"""`growth_gradient.path_marginals` as an operation in a graph, and its gradient."""

import sys
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import register_funcify_default_op_cache_key

from wearfit import growth, growth_integral
from wearfit.model import bare_arrays, data, growth_density, growth_gradient, growth_kernel, growth_mode, op_loops
from wearfit.model.code_version import code_version
from wearfit.model.growth_gradient import path_marginals, path_marginals_back

Array = np.ndarray

VERSION = code_version(
    data, bare_arrays, op_loops, growth, growth_integral, growth_density, growth_mode, growth_kernel, growth_gradient, sys.modules[__name__]
)


def path_values(log_spent: Any, log_capacity: Any, law: Sequence[Any], d: Any) -> Any:
    """Log-likelihood of the readings of each path, shape (path,); arguments as `path_marginals` takes them."""
    return PathMarginals().make_node(log_spent, log_capacity, *law, d.reading).outputs[0]


class PathMarginals(Op):
    """`path_marginals` in a graph: the derivatives come with the value, for both are sums over the same readings."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        paths, readings = given[1].type.shape[0], given[6].type.shape[0]
        shapes: list[tuple[Any, ...]] = [(paths,), (paths,), (readings,), (readings, 5)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, path_marginals(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        paths, readings = shapes[1][0], shapes[6][0]
        return [(paths,), (paths,), (readings,), (readings, pt.constant(5))]

    def connection_pattern(self, node: "Apply[Any]") -> list[list[bool]]:
        return [[True] + [False] * 3] * 6 + [[False] * 4]

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        back = PathMarginalsBack().make_node(cotangents[0], *outputs[1:], inputs[2], inputs[6])
        return [*back.outputs, disconnected_type()]


class PathMarginalsBack(Op):
    """`path_marginals_back` in a graph."""

    __props__ = ()

    def make_node(self, *inputs: Any) -> "Apply[Any]":
        given = [pt.as_tensor_variable(i) for i in inputs]
        readings, paths, features = given[5].type.shape[0], given[0].type.shape[0], given[4].type.shape[0]
        shapes = [(readings,), (paths,), (features,), (features,), (features,), (2,)]
        return Apply(self, given, [pt.TensorType("float64", shape=shape)() for shape in shapes])

    def perform(self, node: "Apply[Any]", inputs: Sequence[Array], output_storage: Any) -> None:
        for storage, value in zip(output_storage, path_marginals_back(*inputs), strict=True):
            storage[0] = value

    def infer_shape(self, node: "Apply[Any]", shapes: Sequence[Any]) -> list[Any]:
        features = (shapes[4][0],)
        return [(shapes[5][0],), (shapes[0][0],), features, features, features, (pt.constant(2),)]


def _compile_marginals(op: PathMarginals, **kwargs: Any) -> Any:
    return op_loops.compiled(path_marginals), VERSION


def _compile_marginals_back(op: PathMarginalsBack, **kwargs: Any) -> Any:
    return op_loops.compiled(path_marginals_back), VERSION


register_funcify_default_op_cache_key(PathMarginals)(_compile_marginals)
register_funcify_default_op_cache_key(PathMarginalsBack)(_compile_marginals_back)
