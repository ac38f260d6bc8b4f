"""One set of pins, written twice: for uv, which resolves without a lock file, and for pip."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_uv_and_pip_are_pinned_alike() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    lines = [line.strip() for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines() if line.strip()]
    assert project["tool"]["uv"]["constraint-dependencies"] == lines


def test_every_dependency_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = {re.split(r"[\[>]", name)[0].lower() for name in (*project["project"]["dependencies"], *project["dependency-groups"]["dev"])}
    pinned = {line.split("==")[0].lower() for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()}
    assert wanted <= pinned


def test_pins_name_no_address() -> None:
    assert "://" not in (ROOT / "constraints.txt").read_text(encoding="utf-8")
