"""`wearfit preview` of records that say too much: what it says, and that it calibrates anew unless told not to."""

import contextlib
import io
import json

import pytest
from small_work import Shipped
from stores import make_store
from surprising import store_surprise

from wearfit.cli.main import main
from wearfit.demo.shipped import scenario_folder
from wearfit.store.store import Store


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    place = tmp_path_factory.mktemp("surprised")
    made = make_store(place / "store.db", records=scenario_folder(), calibrations=(True,))
    store_surprise(made, place / "july")
    return made


def command(*arguments: str) -> tuple[int, str]:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        status = main(arguments)
    return status, out.getvalue()


def current(store: str) -> int | None:
    with Store.open(store) as opened:
        return opened.current_id()


def test_records_that_say_too_much_are_calibrated_on_at_once(store: str, monkeypatch: pytest.MonkeyPatch) -> None:
    status, said = command("preview", "--store", store, "--no-recalibrate", "--json")
    left = json.loads(said)
    assert (status, left["reliable"], left["changes"]) == (0, False, [])
    assert left["sentences"][-1] == "A full recalibration is needed."
    assert "recalibration" not in left
    assert current(store) == 1

    monkeypatch.setattr("wearfit.workflow.resident.WarmWorker", Shipped)
    status, said = command("preview", "--store", store)
    assert status == 0
    assert "The new records say too much for a preview" in " ".join(said.split())
    assert "A full recalibration is needed." in said
    assert current(store) == 2
    with Store.open(store) as opened:
        assert opened.calibration(2).summary.fingerprint == left["records_fingerprint"]
