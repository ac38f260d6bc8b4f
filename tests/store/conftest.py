"""Small uploads and calibration summaries to store."""

import datetime
import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, inspect, text

from wearfit.records.findings import Finding
from wearfit.records.identity import Row
from wearfit.records.upload import Upload, digest_of
from wearfit.store.calibrations import CalibrationSummary


def _runs(shots: Sequence[int | str], plant_id: str = "north") -> tuple[Row, ...]:
    """One run of tool A1 for each number of shots, on consecutive days from 1 January 2020."""
    first = datetime.date(2020, 1, 1)
    rows = []
    for i, value in enumerate(shots):
        day = (first + datetime.timedelta(i)).isoformat()
        values = {
            "tool_id": "A1",
            "plant_id": plant_id,
            "resin_id": "abs",
            "started_on": day,
            "ended_on": day,
            "shots": str(value),
        }
        rows.append(Row("runs", json.dumps(["A1", plant_id, "abs", day]), 0, values, i + 2))
    return tuple(rows)


def _upload(rows: Sequence[Row], name: str = "history", findings: Sequence[Finding] = ()) -> Upload:
    """An upload of one file whose bytes follow from the rows, so that other rows are another upload."""
    content = "\n".join(",".join(row.values.values()) for row in rows).encode()
    files = (("runs.csv", content),)
    return Upload(name, digest_of(files), files, tuple(rows), tuple(findings), {"runs": len(rows)})


_PASSED = CalibrationSummary(
    as_of=datetime.date(2026, 3, 1),
    fingerprint="f" * 64,
    passed=True,
    reasons=(),
    lives=120,
    wear_outs=31,
    seed=2**62 + 1,
    model_version="1",
    format_version=1,
    law="log-logistic",
)


@pytest.fixture
def runs() -> Callable[..., tuple[Row, ...]]:
    return _runs


@pytest.fixture
def upload_of() -> Callable[..., Upload]:
    return _upload


@pytest.fixture
def summary() -> Callable[..., CalibrationSummary]:
    """A summary of one that passed, with the given fields changed."""
    return lambda **changes: replace(_PASSED, **changes)


@pytest.fixture
def raw(url: str) -> Callable[..., list[tuple[Any, ...]]]:
    """Runs a statement on what lies at the address, past all of the store's own code; gives the rows."""

    def run(statement: str, *parameters: dict[str, Any]) -> list[tuple[Any, ...]]:
        engine = create_engine(url if "://" in url else f"sqlite:///{url}")
        with engine.begin() as connection:
            done = connection.execute(text(statement), *parameters)
            rows = [tuple(row) for row in done] if done.returns_rows else []
        engine.dispose()
        return rows

    return run


@pytest.fixture
def content(url: str) -> Callable[[], dict[str, tuple[list[str], list[tuple[Any, ...]]]]]:
    """Gives every table of what lies at the address: its columns and its rows."""

    def read() -> dict[str, tuple[list[str], list[tuple[Any, ...]]]]:
        engine = create_engine(url if "://" in url else f"sqlite:///{url}")
        found = {}
        with engine.connect() as connection:
            for name in sorted(inspect(connection).get_table_names()):
                columns = [column["name"] for column in inspect(connection).get_columns(name)]
                rows = connection.execute(text(f"SELECT * FROM {name}")).all()
                found[name] = columns, sorted((tuple(row) for row in rows), key=repr)
        engine.dispose()
        return found

    return read


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "wearfit.db"
