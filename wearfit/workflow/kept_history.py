"""The history that a store keeps of itself: who did what when, every version of a tool's rows, and going back."""

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from wearfit.errors import Refusal
from wearfit.records.identity import Row
from wearfit.store.history import BACKTEST, CALIBRATION, CHOICES, EVIDENCE, FALL_BACK, JUDGEMENT, RECORDS, RESTORE, SETTING, USE, Line
from wearfit.store.store import Store

# {} is what the deed was about.
_WORDS: Final = {
    RECORDS: "stored records: {}",
    CHOICES: "decided how records are read",
    CALIBRATION: "calibrated: calibration {}",
    USE: "made calibration {} current",
    SETTING: "set {}",
    JUDGEMENT: "judged tool {}",
    BACKTEST: "kept a backtest",
    EVIDENCE: "kept a look at calibration {}",
    RESTORE: "brought back the state after line {}",
    FALL_BACK: "found calibration {} damaged; the last good one answers",
}


def history(store_url: str, tool: str | None = None) -> dict[str, Any]:
    """Who did what when, oldest first.

    Parameters
    ----------
    tool : str, optional
        With every version of each row of this tool, under "versions".

    Raises
    ------
    Refusal
        Where there is no store, or it never held a row of the tool.
    """
    with Store.open(store_url, must_exist=True) as store:
        lines = store.history()
        document = _head(store) | {"lines": [_line(line) for line in lines]}
        if tool is not None:
            document["tool_id"] = tool
            document["versions"] = list(_versions(store, tool, {line.line: line for line in lines}))
    if tool is not None and not document["versions"]:
        raise Refusal(f"The store never held a row of tool '{tool}'.", "Name one as the records do.")
    return document


def state_after(store_url: str, line: int, out: Path | None = None) -> dict[str, Any]:
    """What the store held after a line of its history.

    Parameters
    ----------
    out : Path, optional
        An empty folder for its rows, a CSV file a table; made where it is not there.

    Raises
    ------
    Refusal
        Where there is no such store or line, or the folder holds such files already.
    """
    with Store.open(store_url, must_exist=True) as store:
        past = store.state_after(line)
        document = _head(store)
    files: tuple[Path, ...] = ()
    if out is not None:
        from wearfit.records.write import write_rows  # with data frames, which no other part of this needs

        files = write_rows(past.rows, out)
    return document | {
        "line": line,
        "rows": dict(Counter(row.table for row in past.rows)),
        "choices": json.loads(past.choices.to_json()),
        "settings": past.settings,
        "calibration_then": past.calibration,
        "files": [str(file) for file in files],
    }


def restore(store_url: str, line: int) -> dict[str, Any]:
    """Bring back the state after a line of the history.

    Raises
    ------
    Refusal
        Where there is no such store or line; the store is left as it was.
    """
    with Store.open(store_url, must_exist=True) as store:
        done = store.restore(line)
        document = _head(store)
    return document | {
        "restored": line,
        "line": done.line,
        "before": done.before,
        "brought_back": done.back,
        "withdrawn": done.withdrawn,
        "choices_changed": done.choices,
        "settings_changed": list(done.settings),
        "note": done.kept_calibration or None,
    }


def in_words(line: Mapping[str, Any]) -> str:
    """What a line of the history says was done."""
    return _WORDS[line["did"]].format(line["about"] or "none")


def version_in_words(version: Mapping[str, Any]) -> str:
    """What a version of a row says: its cells where it is the first, else what it changed."""
    if version["withdrawn"]:
        return "withdrawn"
    return ", ".join(_change(name, *pair) for name, pair in version["changed"].items()) or "as it was"


def _change(name: str, before: str | None, now: str | None) -> str:
    return f"{name} {now or 'blank'}" if before is None else f"{name} {before} → {now or 'blank'}"


def _head(store: Store) -> dict[str, Any]:
    """What every answer carries: of the current calibration, None before the first one."""
    current = next((entry for entry in store.calibrations() if entry.current), None)
    if current is None:
        return {"as_of": None, "calibration": None, "fingerprint": None}
    return {"as_of": str(current.summary.as_of), "calibration": current.id, "fingerprint": current.summary.fingerprint}


def _line(line: Line) -> dict[str, Any]:
    at = line.at.isoformat(timespec="seconds")
    return {"line": line.line, "at": at, "by": line.by or None, "did": line.did, "about": line.about, "back_to": line.back_to}


def _versions(store: Store, tool: str, lines: Mapping[int, Line]) -> Iterator[dict[str, Any]]:
    """Every version of each row of a tool, in the order of the rows and oldest first, with what it changed."""
    for row, _ in store.versions():
        if not _is_of(row, tool):
            continue
        before: Mapping[str, str] = {}
        for was, version in store.versions_of(row):
            line = lines.get(version.line)
            yield {
                "table": row.table,
                "key": json.loads(row.key),
                "occurrence": row.occurrence,
                "version": version.version,
                "line": version.line or None,
                "at": line.at.isoformat(timespec="seconds") if line else None,
                "by": (line.by or None) if line else None,
                "upload": version.upload_id,
                "withdrawn": version.withdrawn,
                "changed": {
                    name: [before.get(name), was.values.get(name)]
                    for name in {**before, **was.values}
                    if before.get(name) != was.values.get(name)
                },
            }
            before = was.values


def _is_of(row: Row, tool: str) -> bool:
    return tool in (row.values.get("tool_id"), *(json.loads(row.key)[:1] if row.table != "plants" else ()))
