"""The fit to the records, as the command and the screens ask for it."""

import json
from pathlib import Path

import pytest
from ready_worker import Interrupted
from small_work import Shipped
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.readers.read import read
from wearfit.store.store import Store
from wearfit.workflow.fit import fit
from wearfit.workflow.fit_in_words import TITLES, misfit, odds, part_name, sentences, subject
from wearfit.workflow.planned import as_wear, count_planned, kept_planned
from wearfit.workflow.planned_in_words import planned_sentences
from wearfit.workflow.progress import Report, silent
from wearfit.workflow.worker_process import Fitted, Request


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("fit") / "fit.db", records=scenario_folder(), calibrations=(True,))


def test_the_demo_fits_and_every_life_is_accounted_for(store: str) -> None:
    document = fit(store)
    json.dumps(document, allow_nan=False)
    assert document["sentences"][0].startswith("Nothing stands out")
    assert document["looked_at"] == len(document["checks"])
    counted = document["counted"]
    assert counted["left_out"] == 0 and counted["lives"] == 230
    whole = document["checks"][0]
    for by in ("class", "month", "year"):
        assert sum(c["observed"] for c in document["checks"] if c["by"] == by) == pytest.approx(whole["observed"], abs=1e-3)
    assert {c["by"] for c in document["curves"]} == {"class", "plant"}
    for curve in document["curves"]:
        for name in ("observed", "expected", "low", "high"):
            fall = [point[name] for point in curve["points"]]
            assert fall == sorted(fall, reverse=True) and fall[-1] >= 0.0 and fall[0] == 1.0
    for c in document["checks"]:  # each has its words
        assert c["by"] in TITLES and part_name(c["by"], c["name"]) is not None and subject(c["by"], c["name"])


def test_records_that_changed_since_are_not_held_against_it(tmp_path: Path) -> None:
    store = make_store(tmp_path / "changed.db", records=scenario_folder(), calibrations=(True,))
    folder = tmp_path / "more"
    folder.mkdir()
    header = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
    (folder / "runs.csv").write_text(header + "T-001,delta,abs,2024-01-03,2024-01-04,1000\n")
    with Store.open(store) as opened:
        opened.add_upload(read(folder))
    with pytest.raises(Refusal, match="have changed since"):
        fit(store)


def test_planned_renewals_become_wear_outs_and_nothing_else_changes() -> None:
    records = assemble(read(scenario_folder()).rows)
    changed, renewals = as_wear(records)
    before, after = records.tables["events"], changed.tables["events"]
    moved = before["cause"] != after["cause"]
    assert renewals == int(moved.sum()) == 19
    assert set(before["cause"][moved]) == {"planned"} and set(after["cause"][moved]) == {"wear"}
    assert set(before["event"][moved]) <= {"refurbish", "retool", "retire"}
    assert changed.tables["runs"] is records.tables["runs"]


class Watched(Shipped):
    """Gives the demo's calibration, and keeps what was asked."""

    def __init__(self) -> None:
        super().__init__()
        self.wear_outs: list[int] = []

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        self.wear_outs.append(request.exposures.wear_outs)
        return super().calibrate(request)


def test_the_second_calibration_knows_more_wear_outs_and_its_answer_is_kept(store: str) -> None:
    assert kept_planned(store, 1) is None
    worker = Watched()
    document = count_planned(store, worker)
    assert worker.wear_outs[0] > 86  # that many as they are recorded
    assert kept_planned(store, 1) == document
    assert fit(store)["planned"] == document
    # The same draws answered twice.
    assert document["as_wear"] == document["as_recorded"]
    assert 0.0 < document["as_recorded"]["next_run"] < 1.0


def test_an_interrupted_second_calibration_keeps_nothing(tmp_path: Path) -> None:
    store = make_store(tmp_path / "own.db", records=scenario_folder(), calibrations=(True,))
    with pytest.raises(Refusal, match="nothing of it is kept"):
        count_planned(store, Interrupted())
    assert kept_planned(store, 1) is None


def test_words() -> None:
    c = {"by": "plant", "name": "delta", "observed": 9.0, "expected": 5.1, "low": 2.0, "high": 9.0, "p": 0.0251, "told": True}
    assert misfit(c) == (
        "Tools at delta end earlier than the model believes: 9 wore out where 5.1 were expected; by chance alone in 1 of 40."
    )
    assert misfit({**c, "by": "month", "name": "3", "observed": 1.0, "p": 0.0004}).startswith("Tools in March end later")
    assert [odds(p) for p in (0.9, 0.3, 0.001, 1e-6)] == ["often", "1 of 3", "1 of 1,000", "less than 1 of 10,000"]
    whole = {**c, "by": "all", "name": "", "told": False}
    counted = dict.fromkeys(("lives", "left_out", "reckoned", "open_tools", "unstated", "between", "measured", "planned"), 1)
    said = sentences({"checks": [whole, c], "looked_at": 2, "counted": counted})
    assert said[0].startswith("Of 2 things looked at, one stands out") and said[1] == misfit(c)
    assert any("1 life is left out" in sentence for sentence in said)
    assert planned_sentences({"renewals": 0, "as_recorded": {}, "as_wear": None, "passed": True}) == [
        "No renewal on record was planned, so nothing hangs on how planned renewals are taken."
    ]
