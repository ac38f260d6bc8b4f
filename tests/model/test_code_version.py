"""A compiled loop is known by its source, so that no cache serves an old one."""

from types import ModuleType

import pytest

from wearfit.model import cell_sums, code_version, tool_marginal, tool_marginal_op
from wearfit.model.code_version import code_version as version


def test_other_source_is_another_version() -> None:
    assert version(cell_sums) == version(cell_sums)
    assert version(cell_sums) != version(tool_marginal) != version(cell_sums, tool_marginal)


def test_operations_carry_it() -> None:
    assert cell_sums.VERSION != tool_marginal_op.VERSION
    for loop in (cell_sums, tool_marginal_op):
        assert loop.VERSION > 1


def test_a_module_without_source_is_refused() -> None:
    with pytest.raises(TypeError):
        code_version.code_version(ModuleType("made up"))
