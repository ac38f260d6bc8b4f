"""Arrays whose references compiled loops do not count: to count them took an eighth of the time of readings' gradient.

A compiled function counts who holds an array wherever one is handed on or a row of it is taken, by an instruction that waits for all
processors. Loops that take rows by the thousand get bare arrays from the function that owns the memory, and that holds on to it.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
from numba.extending import intrinsic, overload, register_jitable

Array = np.ndarray


def bare(array: Array) -> Array:
    """The same array, its references not counted where code is compiled. Its owner is to be held until nobody asks for it any more."""
    return array


@register_jitable
def hold(*owners: Array) -> None:
    """Does nothing: but up to where compiled code has it the arrays are held, for a variable is let go after its last use."""


def _without_owner(typing: Any, array: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        made = context.make_array(array)(context, builder, value=arguments[0])
        made.meminfo = made.meminfo.type(None)
        return made._getvalue()

    return array(array), generate


_uncounted: Any = intrinsic(_without_owner)


@overload(bare)
def _bare(array: Array) -> Callable[[Array], Array]:
    def uncounted(array: Array) -> Array:
        counted_no_more: Array = _uncounted(array)
        return counted_no_more

    return uncounted
