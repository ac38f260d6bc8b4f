"""The demo has a store of its own."""

from collections.abc import Callable
from pathlib import Path

import pytest

from wearfit.calibration import from_bytes
from wearfit.demo.shipped import scenario_folder, shipped_calibration_bytes
from wearfit.errors import Refusal
from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.check import check
from wearfit.workflow.demo import run_demo
from wearfit.workflow.worker import Worker


def test_the_scenario_can_be_found_and_read():
    found = check(scenario_folder())
    assert found.refusal is None
    assert found.tables["tools"].used == 120


def test_the_calibration_that_ships_is_of_the_scenario():
    identity = from_bytes(shipped_calibration_bytes()).identity
    history = check(scenario_folder()).history
    assert history is not None
    assert identity.fingerprint == history.fingerprint
    assert identity.as_of == str(history.day)
    assert identity.diagnostics["passed"]


def test_a_store_with_other_records_is_refused_and_left_as_it_was(write_history: Callable[..., Path], tmp_path: Path):
    url = str(tmp_path / "theirs.db")
    with Store.open(url) as store:
        store.add_upload(read(write_history("theirs")))
        before = store.rows()
    with pytest.raises(Refusal, match="theirs") as refused:
        run_demo(url, Worker())
    assert refused.value.status == 2
    with Store.open(url) as store:
        assert store.rows() == before
