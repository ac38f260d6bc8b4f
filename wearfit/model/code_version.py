"""Versions of compiled code, and of the whole program, that follow their sources.

The compiler's cache knows an operation by its name and a version, not by its code: after a change, a machine that had
compiled it before would go on running the old loop.
"""

import hashlib
import inspect
import os
import sys
from functools import cache
from importlib import metadata
from pathlib import Path
from types import ModuleType
from typing import Final
from zlib import crc32

import wearfit

PACKAGES: Final = ("numpy", "scipy", "numba", "llvmlite", "pytensor", "pymc", "nutpie", "arviz")  # whose version moves draws
FLAGS: Final = ("PYTENSOR", "NUMBA", "OMP_", "OPENBLAS", "MKL_")  # beginnings of variables of the environment that bear on them


def code_version(*modules: ModuleType) -> int:
    """A number that changes with the source of the modules: those of the code, and of the constants compiled into it."""
    return crc32("\n".join(inspect.getsource(module) for module in modules).encode())


def program_digest() -> str:
    """A name that changes with whatever may change a draw: sources, interpreter, libraries, flags of the compilers.

    Wherever the program lies: a copy of it has the same.
    """
    flags = sorted(f"{name}={value}" for name, value in os.environ.items() if name.startswith(FLAGS))
    return hashlib.sha256("\0".join((sys.version, *_versions(), *flags, _sources())).encode()).hexdigest()


@cache
def _sources() -> str:
    root, told = Path(wearfit.__file__).parent, hashlib.sha256()
    for path in sorted(p for p in root.rglob("*") if p.suffix in (".py", ".toml")):
        told.update(str(path.relative_to(root)).encode() + b"\0" + path.read_bytes() + b"\0")
    return told.hexdigest()


@cache
def _versions() -> tuple[str, ...]:
    return tuple(map(_version, PACKAGES))


def _version(name: str) -> str:
    try:
        return f"{name} {metadata.version(name)}"
    except metadata.PackageNotFoundError:
        return name
