"""What a recalibration stores, and which calibration answers after it. The model itself is not run here."""

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from ready_worker import DIAGNOSTICS, Interrupted, Ready

from wearfit.errors import Refusal
from wearfit.model.priors_file import own_priors_text
from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.check import check
from wearfit.workflow.new_records import line_rested_on
from wearfit.workflow.progress import STAGES, Progress, Report, silent
from wearfit.workflow.recalibrate import Order, Recalibration, recalibrate
from wearfit.workflow.worker import Worker
from wearfit.workflow.worker_process import Fitted, Request

Write = Callable[..., Path]


@pytest.fixture
def store_url(tmp_path: Path) -> str:
    return str(tmp_path / "wearfit.db")


def test_the_answer_has_the_keys_that_are_fixed(write_history: Write, store_url: str):
    folder = write_history()
    document = recalibrate(store_url, Order((folder,)), Ready()).as_json()
    json.dumps(document, allow_nan=False)
    assert document["as_of"] == "2021-02-20"
    assert document["calibration"] == 1
    assert document["fingerprint"] == check(folder).history.fingerprint
    assert document["current"] is True
    assert (document["lives"], document["wear_outs"]) == (3, 1)
    assert {"read", "prepare", "compile", "sample", "total"} <= document["seconds"].keys()
    assert set(DIAGNOSTICS) <= document["diagnostics"].keys()
    assert document["findings"] == len(check(folder).findings)
    assert document["uploads"] == [{"name": "history", "new": 6, "changed": 0, "unchanged": 0, "repeated": 0, "withdrawn": 0}]


def test_progress_names_known_stages_in_their_order(write_history: Write, store_url: str):
    told: list[Progress] = []
    recalibrate(store_url, Order((write_history(),)), Ready(), told.append)
    assert [progress.stage for progress in told] == ["read", "assemble", "save"]
    assert {progress.stage for progress in told} <= STAGES.keys()


def test_the_same_history_again_changes_nothing_but_is_calibrated(write_history: Write, store_url: str):
    folder, worker = write_history(), Ready()
    first = recalibrate(store_url, Order((folder,)), worker)
    again = recalibrate(store_url, Order((folder,)), worker)
    without_paths = recalibrate(store_url, Order(), worker)
    assert again.stored[0][1].unchanged == 6
    assert {done.identity.fingerprint for done in (first, again, without_paths)} == {first.identity.fingerprint}
    assert {done.findings for done in (first, again, without_paths)} == {first.findings}
    assert [done.calibration for done in (first, again, without_paths)] == [1, 2, 3]
    assert without_paths.current


def test_a_history_that_grew_counts_its_findings_once(write_history: Write, store_url: str, tmp_path: Path):
    folder, worker = write_history(tools="tool_id,commissioned_on,rack\nT1,2020-01-01,A\nT2,2020-01-01,B\n"), Ready()
    before = recalibrate(store_url, Order((folder,)), worker).findings
    with (folder / "runs.csv").open("a") as runs:
        runs.write("T2,south,abs,2021-03-01,2021-03-20,50000\n")
    grown = recalibrate(store_url, Order((folder,)), worker)
    assert grown.stored[0][1].new == 1
    assert grown.findings == before
    assert recalibrate(store_url, Order(), worker).findings == before


def test_tables_without_a_row_are_remembered(write_history: Write, store_url: str):
    folder = write_history(events="tool_id,date,event\n")
    assert recalibrate(store_url, Order((folder,)), Ready()).identity.wear_outs == 0
    assert recalibrate(store_url, Order(), Ready()).identity.wear_outs == 0


def at(store_url: str, day: str, worker: Worker, make_current: bool = False) -> Recalibration:
    return recalibrate(store_url, Order(as_of=dt.date.fromisoformat(day), make_current=make_current), worker)


def test_an_earlier_day_is_kept_and_becomes_current_only_where_told(write_history: Write, store_url: str):
    recalibrate(store_url, Order((write_history(),)), Ready())
    earlier = at(store_url, "2020-12-31", Ready())
    assert not earlier.current
    assert "Calibration 1" in earlier.why_not
    assert "--make-current" in earlier.why_not
    assert at(store_url, "2020-12-31", Ready(), make_current=True).current
    later = at(store_url, "2022-01-01", Ready())
    assert later.current
    with Store.open(store_url) as store:
        assert [(str(c.summary.as_of), c.current) for c in store.calibrations()] == [
            ("2021-02-20", False), ("2020-12-31", False), ("2020-12-31", False), ("2022-01-01", True),
        ]  # fmt: skip


def test_one_that_fails_the_gate_is_kept_and_never_becomes_current(write_history: Write, store_url: str):
    good = recalibrate(store_url, Order((write_history(),)), Ready())
    failed = at(store_url, "2022-01-01", Ready(passed=False), make_current=True)
    assert not failed.current
    assert "plant: R-hat 1.300" in failed.why_not
    with Store.open(store_url) as store:
        assert store.current_id() == good.calibration
        assert store.calibration(failed.calibration).blob == b"a posterior"


def test_nothing_is_stored_where_one_of_the_paths_cannot_be_read(write_history: Write, store_url: str, tmp_path: Path):
    with pytest.raises(Refusal) as refused:
        recalibrate(store_url, Order((write_history(), tmp_path / "nowhere")), Ready())
    assert refused.value.status == 2
    assert not Path(store_url).exists()


def test_records_that_cannot_be_used_yet_are_stored_all_the_same(write_history: Write, store_url: str):
    with pytest.raises(Refusal, match="events") as refused:
        recalibrate(store_url, Order((write_history(events=None),)), Ready())
    assert refused.value.status == 1
    rest = write_history("rest", tools=None, runs=None)
    assert recalibrate(store_url, Order((rest,)), Ready()).identity.wear_outs == 1


def test_without_records_there_is_nothing_to_calibrate_on(store_url: str):
    with pytest.raises(Refusal) as refused:
        recalibrate(store_url, Order(), Ready())
    assert refused.value.status == 1
    assert not Path(store_url).exists()
    Store.open(store_url).close()
    with pytest.raises(Refusal, match="no records yet"):
        recalibrate(store_url, Order(), Ready())


def test_an_interrupt_leaves_the_records_and_no_calibration(write_history: Write, store_url: str):
    with pytest.raises(Refusal, match="records are stored"):
        recalibrate(store_url, Order((write_history(),)), Interrupted())
    with Store.open(store_url) as store:
        assert len(store.rows()) == 6
        assert store.calibrations() == []


def test_priors_and_seed_come_from_the_order_else_the_store_else_the_default(write_history: Write, store_url: str, tmp_path: Path):
    worker = Ready()
    recalibrate(store_url, Order((write_history(),)), worker)
    own = tmp_path / "own.toml"
    own.write_text("# mine\n" + own_priors_text(), encoding="utf-8")
    with Store.open(store_url) as store:
        store.set_setting("priors", str(own))
        store.set_setting("seed", "5")
    recalibrate(store_url, Order(), worker)
    recalibrate(store_url, Order(seed=9), worker)
    assert [request.seed for request in worker.asked] == [1, 5, 9]
    assert worker.asked[0].priors == own_priors_text()
    assert worker.asked[1].priors.startswith("# mine")


def test_priors_that_cannot_be_read_are_refused_before_anything_is_stored(write_history: Write, store_url: str, tmp_path: Path):
    order = Order((write_history(),), priors=tmp_path / "nowhere.toml")
    with pytest.raises(Refusal) as refused:
        recalibrate(store_url, order, Ready())
    assert refused.value.status == 2
    assert not Path(store_url).exists()
    broken = tmp_path / "broken.toml"
    broken.write_text("[band", encoding="utf-8")
    with pytest.raises(Refusal, match="TOML"):
        recalibrate(store_url, replace(order, priors=broken), Ready())


def test_records_that_come_while_the_model_is_calibrated_are_newer_than_the_calibration(write_history: Write, store_url: str):
    class MeanwhileStored(Ready):
        def calibrate(self, request: Request, report: Report = silent) -> Fitted:
            with Store.open(store_url) as store:
                store.add_upload(read(late))
            return super().calibrate(request, report)

    first = write_history()
    runs = (first / "runs.csv").read_text(encoding="utf-8")
    late = write_history("late", runs=runs + "T2,south,abs,2021-03-01,2021-03-02,700\n")
    done = recalibrate(store_url, Order((first,)), MeanwhileStored())
    assert done.current
    assert (done.identity.lives, done.identity.wear_outs) == (3, 1)
    with Store.open(store_url) as store:
        assert store.records_since(done.calibration)
        line = line_rested_on(store, done.calibration)
        then, now = store.state_after(line).rows, store.rows()
    assert len(now) == len(then) + 1
    assert recalibrate(store_url, Order(), Ready()).identity.fingerprint != done.identity.fingerprint
    with Store.open(store_url) as store:
        assert not store.records_since(2)
