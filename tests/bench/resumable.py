"""Results of a long run in one JSON file, a line to each piece of it: written after each, and gone on with where the file ends."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any


def begun(path: Path, setting: Mapping[str, Any], empty: Mapping[str, Any]) -> dict[str, Any]:
    """What the file holds, `setting` and `empty` where there is none; refuses one that was begun under another setting."""
    if not path.exists():
        return {**setting, **empty}
    result: dict[str, Any] = json.loads(path.read_text())
    if any(result[key] != value for key, value in setting.items()):
        raise SystemExit(f"{path} was begun with another model or other fleets; name another file.")
    return result


def written(path: Path, result: Mapping[str, Any], pieces: str) -> None:
    """Put a result in the place of the one before, the entry named `pieces` last."""
    lines = ",\n".join(json.dumps(piece) for piece in result[pieces])
    head = json.dumps({key: value for key, value in result.items() if key != pieces}, indent=1)
    partial = path.with_suffix(".part")
    partial.write_text(f'{head[:-2]},\n "{pieces}": [\n{lines}\n]\n}}\n')
    partial.replace(path)
