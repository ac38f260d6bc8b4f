"""How an answer leaves the command: one JSON document or tables, an exit status, and refusals in a sentence."""

import json
import math
import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from rich.console import Console
from rich.text import Text

from wearfit.errors import Refusal

PIPED_WIDTH: Final = 160  # columns of a table that goes to a file or another program


@dataclass(frozen=True)
class Answer:
    """What a command gives.

    Parameters
    ----------
    document : mapping
        For `--json`.
    show : callable
        Prints the same for a reader.
    status : int
        Exit status: 0 done, 1 the records or the calibration do not allow an answer.
    after : callable, optional
        What goes on once the answer is given; returns the exit status.
    """

    document: Mapping[str, Any]
    show: Callable[[Console], None]
    status: int = 0
    after: Callable[[], int] | None = None


def give(answer: Answer, as_json: bool) -> int:
    """Print an answer on standard output, its warnings on standard error, and do what comes after it; returns the exit status."""
    for warning in answer.document.get("warnings", ()):
        print(warning, file=sys.stderr)
    if as_json:
        _print_document(answer.document)
    else:
        wide = sys.stdout.isatty() or "COLUMNS" in os.environ
        console = Console(file=sys.stdout, highlight=False, width=None if wide else PIPED_WIDTH)
        answer.show(console)
        _show_basis(console, answer.document)
    return answer.status if answer.after is None else answer.after()


def _show_basis(console: Console, document: Mapping[str, Any]) -> None:
    """What the answer rests on, in a line under it."""
    fingerprint, calibration = document.get("fingerprint"), document.get("calibration")
    if fingerprint is not None:
        of = "Fingerprint of these records" if calibration is None else f"Calibration {calibration}, fingerprint of its records"
        console.print(Text(f"{of}: {fingerprint}"))


def refuse(refusal: Refusal, as_json: bool) -> int:
    """Say why there is no answer; returns the exit status."""
    if as_json:
        _print_document({"error": refusal.problem, "repair": refusal.repair})
    else:
        print(refusal, file=sys.stderr)
    return refusal.status


def _print_document(document: Mapping[str, Any]) -> None:
    print(json.dumps(_finite(document), indent=1, allow_nan=False), flush=True)


def _finite(value: Any) -> Any:
    """JSON has no word for a number that is not finite: null."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(name): _finite(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(inner) for inner in value]
    return value
