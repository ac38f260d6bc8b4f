"""What moved the forecasts: batches by upload, words, and the whole answer."""

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from stores import make_store

from wearfit.calibration import from_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.evidence.believed_draws import believed
from wearfit.evidence.courses import build_courses
from wearfit.evidence.hangs_on_priors import WEAR_OUTS, forecasts_of, prior_report
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.answers import forecast
from wearfit.workflow.history import history_of
from wearfit.workflow.moved import kept_moved, moved
from wearfit.workflow.moved_in_words import belief_name, belief_sentences, record_sentences
from wearfit.workflow.upload_batches import upload_batches

FIRST_NEW = "2025-01-01"


def batch(**changed: Any) -> dict[str, Any]:
    return {
        "by": "year", "name": "2024", "wear_outs": 8, "khat": 0.4, "reliable": True, "kept": 0, "wear_outs_ahead": 12.1, "error": 0.1,
        "tools": [{"tool_id": "T-030", "without": 941_000.0, "now": 672_000.0}], **changed,
    }  # fmt: skip


def until(folder: Path) -> Path:
    """The demo's records as they stood before some day."""
    folder.mkdir()
    for file in scenario_folder().glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as source:
            header, *rows = csv.reader(source)
        day = {"runs.csv": "started_on", "events.csv": "date"}.get(file.name)
        kept = rows if day is None else [row for row in rows if row[header.index(day)] < FIRST_NEW]
        with (folder / file.name).open("w", encoding="utf-8", newline="") as target:
            csv.writer(target).writerows([header, *kept])
    return folder


def test_runs_and_endings_count_with_the_upload_that_brought_them(tmp_path: Path) -> None:
    store = make_store(tmp_path / "grown.db", records=until(tmp_path / "early"))
    with Store.open(store) as opened:
        opened.add_upload(read(scenario_folder()))
    calibration = from_bytes(shipped_calibration_bytes())
    history = history_of(assemble(read(scenario_folder()).rows))
    e = history.exposures
    courses = build_courses(believed(calibration, e, history.fingerprint, 50))
    batches = upload_batches(store, calibration, e, courses)
    assert len(batches.names) == 2 and "early" in batches.names[0]
    day = np.datetime64(FIRST_NEW).astype(np.int64)
    made = courses.run >= 0
    began = e.runs.start[courses.run]
    np.testing.assert_array_equal(batches.piece[made], (began >= day)[made])
    ends = np.minimum(e.episodes.worn_at, e.episodes.closes)
    over = np.isfinite(ends) & np.isin(np.arange(len(ends)), courses.episode)
    assert np.mean(batches.ending[over] == (ends >= day)[over]) > 0.99  # an event placed by its count has another day


def test_every_part_of_the_prior_has_a_name() -> None:
    names = {row["entry"] for row in prior_report(from_bytes(shipped_calibration_bytes()))["priors"]}
    assert {"shape", "class_offset", "setup", *SHARES, *(f"group.{g}" for g in GROUPS)} <= names
    assert any(entry.startswith("slope.sweating_between, slope.sweating_within") for entry in names)  # correlated: one belief
    words = {entry: belief_name(entry) for entry in names}
    assert all(word and "_" not in word and "{" not in word for word in words.values()), words
    assert len(set(words.values())) == len(words)
    assert len(names) < len(COEFFICIENTS) + len(SHARES) + len(GROUPS) + 3


def test_wear_outs_ahead_are_those_of_the_fleet(tmp_path: Path) -> None:
    store = make_store(tmp_path / "demo.db", calibrations=(True,))
    tools = [tool for tool in forecast(store)["tools"] if tool["status"] != "worn"]
    chances = np.array([tool["p_within_12_months"] or 0.0 for tool in tools])
    (ahead,) = (f.draws for f in forecasts_of(from_bytes(shipped_calibration_bytes())) if f.name == WEAR_OUTS)
    # The fleet counts draws in which it comes to that, which here are averaged over.
    assert float(ahead.mean()) == pytest.approx(chances.sum(), abs=4.0 * np.sqrt((chances * (1.0 - chances)).sum() / 2000.0))


def test_words_of_records() -> None:
    document = {
        "wear_outs_ahead": 13.5,
        "batches": [batch(), batch(by="upload", name="1 Mar 2026 (new.csv)", khat=0.91, reliable=False, tools=[])],
    }
    first, without, tool, large = record_sentences(document)
    assert first.startswith("13.5 tools are expected") and "1 of 2 batches" in first
    assert without == (
        "Without the records of 2024 (8 wear-outs) 12.1 tools would be expected to wear out in the next 12 months, where 13.5 are."
    )
    assert tool == "Without the records of 2024 T-030 would likely have 941,000 shots left, where 672,000 are told."
    assert large == "Too large an effect to be told without recalibrating: the upload of 1 Mar 2026 (new.csv) (k 0.91)."
    within_error = {"wear_outs_ahead": 13.5, "batches": [batch(wear_outs_ahead=13.2, error=0.2, tools=[])]}
    assert "none of 1 batch" in record_sentences(within_error)[0] and len(record_sentences(within_error)) == 1


def test_words_of_beliefs() -> None:
    moved_by = {WEAR_OUTS: {"sensitivity": 0.08, "half": 14.9, "twice": 12.8}, "104": {"sensitivity": 0.01, "half": None, "twice": None}}
    beliefs = {
        "limit": 0.05,
        "forecasts": {WEAR_OUTS: {"mean": 13.5, "likelihood": 0.2}, "104": {"mean": 5e4, "likelihood": 0.01}},
        "priors": [{"entry": "class_offset", "own": 0.1, "forecasts": moved_by}],
    }
    hangs, weak = belief_sentences(beliefs)
    assert hangs == (
        "The wear-outs of the next 12 months hang on what is believed of how far classes last longer or shorter than their bands: half as "
        "firmly believed 14.9 wear-outs, twice as firmly 12.8, where 13.5 are told."
    )
    assert weak.startswith("The records say little of what is left of the live tools of class 104")
    calm = {**beliefs, "limit": 0.5, "forecasts": {WEAR_OUTS: {"mean": 13.5, "likelihood": 0.9}}}
    assert belief_sentences(calm)[0].startswith("No forecast hangs on a single belief")


@pytest.mark.slow
def test_the_demos_answer_is_whole_and_kept(tmp_path: Path) -> None:
    store = make_store(tmp_path / "demo.db", records=scenario_folder(), calibrations=(True,))
    assert kept_moved(store, 1) is None
    document = moved(store)
    assert kept_moved(store, 1) == json.loads(json.dumps(document, allow_nan=False))
    by_year = [b for b in document["batches"] if b["by"] == "year"]
    assert len(by_year) == 11 and {b["by"] for b in document["batches"]} == {"year", "quarter", "plant"}  # one upload is no batch
    for b in document["batches"]:
        assert b["reliable"] == (b["wear_outs_ahead"] is not None)
        if b["reliable"]:
            assert abs(b["wear_outs_ahead"] - document["wear_outs_ahead"]) < 5.0
