"""A version for compiled code that follows its source.

The compiler's cache knows an operation by its name and a version, not by its code: after a change, a machine that had
compiled it before would go on running the old loop.
"""

import inspect
from types import ModuleType
from zlib import crc32


def code_version(*modules: ModuleType) -> int:
    """A number that changes with the source of the modules: those of the code, and of the constants compiled into it."""
    return crc32("\n".join(inspect.getsource(module) for module in modules).encode())
