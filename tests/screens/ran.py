"""Which functions ran, in every thread."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2] / "wearfit"


@contextmanager
def functions_run(rooms: tuple[str, ...]) -> Iterator[set[str]]:
    """Collects the functions of some rooms that begin to run meanwhile, as "room/file.py:name"."""
    found: set[str] = set()
    watching, tool = sys.monitoring, sys.monitoring.PROFILER_ID

    def begun(code: CodeType, _: int) -> object:
        path = Path(code.co_filename)
        if path.is_relative_to(ROOT) and path.relative_to(ROOT).parts[0].removesuffix(".py") in rooms:
            found.add(f"{path.relative_to(ROOT)}:{code.co_qualname}")
        return watching.DISABLE

    watching.use_tool_id(tool, "functions_run")
    watching.restart_events()
    watching.register_callback(tool, watching.events.PY_START, begun)
    watching.set_events(tool, watching.events.PY_START)
    try:
        yield found
    finally:
        watching.set_events(tool, 0)
        watching.register_callback(tool, watching.events.PY_START, None)
        watching.free_tool_id(tool)
