"""Everything in a store as open files: read again they are the same records, nothing in them is a formula, and half of them is nothing."""

import csv
import datetime as dt
import hashlib
import io
import json
import os
import signal
import subprocess
import sys
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from cases import CASES, Case
from hypothesis import given
from hypothesis import strategies as st
from ready_worker import Ready
from small_work import Shipped
from stores import make_store

from wearfit.demo.shipped import scenario_folder
from wearfit.errors import Refusal
from wearfit.records.assemble import assemble
from wearfit.records.choices import Choices
from wearfit.records.findings import Finding
from wearfit.records.formulas import SIGNS, kept_as_text, unmarked
from wearfit.records.identity import Row
from wearfit.records.readers.read import read
from wearfit.records.records import Records
from wearfit.records.tables import TABLES
from wearfit.store.schema import metadata
from wearfit.store.store import Store
from wearfit.workflow.answers import forecast
from wearfit.workflow.export import export
from wearfit.workflow.exported import exported_of
from wearfit.workflow.overrides import keep_override
from wearfit.workflow.progress import Report, silent
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.worker_process import Fitted, Request

TAKEN = [case for case in CASES if case.refusal is None]
HOSTILE = "=cmd|' /C calc'!A0"


def records_in(store: Store) -> Records:
    empty = {table for upload in store.uploads() for table, count in upload.counts.items() if count == 0}
    return assemble(store.rows(), empty, store.choices())


def known(rows: Sequence[Row]) -> list[tuple[str, str, int, dict[str, str]]]:
    """Rows in the columns that the template has."""
    held = [{name: cell for name, cell in row.values.items() if name in TABLES[row.table].names} for row in rows]
    return sorted(((row.table, row.key, row.occurrence, of_row) for row, of_row in zip(rows, held, strict=True)), key=repr)


def stored(url: str, folder: Path, choices: Choices) -> None:
    with Store.open(url) as store:
        store.add_uploads([read(folder, choices)], choices)


@pytest.mark.parametrize("case", TAKEN, ids=lambda case: case.name)
def test_untidy_records_come_back_as_the_same_records(case: Case, tmp_path: Path) -> None:
    one, other, folder = str(tmp_path / "one.db"), str(tmp_path / "other.db"), tmp_path / "exported"
    stored(one, case.records, case.choices)
    export(one, folder)
    stored(other, folder, exported_of([folder], other).choices)
    with Store.open(one) as before, Store.open(other) as after:
        try:
            wanted = records_in(before).fingerprint
        except Refusal as refusal:  # not enough for a history, before as after
            with pytest.raises(Refusal, match=refusal.problem[:20]):
                records_in(after)
            return
        assert records_in(after).fingerprint == wanted
        assert known(before.rows()) == known(after.rows())


def test_the_manifest_names_every_file_by_what_it_holds_and_every_table_is_there(url: str, tmp_path: Path) -> None:
    make_store(url, records=scenario_folder(), calibrations=(True, False))
    folder = tmp_path / "all"
    tool = forecast(url)["tools"][0]["tool_id"]
    keep_override(url, tool, HOSTILE, "+1 because", forecast_day(url), remaining_shots=5)
    document = export(url, folder)
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    found = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert manifest["files"] == {name: hashlib.sha256(held).hexdigest() for name, held in found.items() if name != "manifest.json"}
    assert document["written"] == len(found)
    assert {name.removeprefix("store/") for name in found if name.startswith("store/")} == {f"{name}.csv" for name in metadata.tables}
    assert manifest["fingerprint"] == forecast(url)["fingerprint"]
    with Store.open(url) as store:
        assert found["calibrations/0001.nc"] == store.calibration(1).blob
        archive = zipfile.ZipFile(io.BytesIO(found["uploads/0001.zip"]))
        assert [archive.read(name) for name in archive.namelist()] == [content for _, content in store.files(1)]
    (kept,) = csv.DictReader(io.StringIO(found["store/overrides.csv"].decode()))
    assert kept["by"] == f"'{HOSTILE}"


def forecast_day(url: str) -> dt.date:
    return dt.date.fromisoformat(forecast(url)["as_of"])


def test_no_cell_of_an_export_is_a_formula_and_every_text_comes_back(write_history: Callable[..., Path], tmp_path: Path) -> None:
    header = "tool_id,service_class,commissioned_on,design_id,=1+1,plain\n"
    hand = write_history(tools=f'{header}"{HOSTILE}",103,2020-01-01,@SUM(A1),-5,"\'=x"\nT2,102,2020-01-01,+a,=2,b\n')
    (hand / "runs.csv").write_text(
        f'tool_id,plant_id,resin_id,started_on,ended_on,shots\n"{HOSTILE}",-south,=abs,2020-02-01,2020-02-20,9000\n'
    )
    (hand / "events.csv").write_text(f'tool_id,date,event,note\n"{HOSTILE}",2020-03-01,service,"=HYPERLINK(""http://x"")"\n')
    url, folder = str(tmp_path / "one.db"), tmp_path / "exported"
    stored(url, hand, Choices())
    export(url, folder)
    for path in folder.rglob("*.csv"):
        for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))):
            assert not [cell for cell in row if cell.startswith(SIGNS)], path.name
    with Store.open(url) as store:
        before = store.rows()
    assert sum(HOSTILE in row.values.values() for row in before) == 3
    assert any("=1+1" in row.values for row in before)
    assert known(before) == known(read(folder).rows)


def test_of_an_exported_store_the_terms_come_back_where_there_is_no_store_yet(
    write_history: Callable[..., Path], new_store: Callable[[], str], tmp_path: Path
) -> None:
    url, other, folder = new_store(), new_store(), tmp_path / "exported"
    first = recalibrate(url, Order((write_history(),), seed=77, law="lognormal"), Ready())
    with Store.open(url) as store:
        store.set_setting("tolerance", "0.25")
    export(url, folder)
    # The stand-in's posterior is none that can be opened, and is told to be so: its priors are those of the package.
    again = recalibrate(other, Order((folder,)), Ready())
    assert (again.identity.wear_law, again.identity.law_chosen) == ("lognormal", "")
    assert (again.identity.fingerprint, again.identity.seed, again.identity.as_of) == (first.identity.fingerprint, 77, first.identity.as_of)
    with Store.open(other) as store:
        assert store.setting("tolerance") == "0.25"
    assert recalibrate(other, Order((folder,)), Ready()).identity.seed == 1


class Noting(Shipped):
    """Notes what the model is asked."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[Request] = []

    def calibrate(self, request: Request, report: Report = silent) -> Fitted:
        self.asked.append(request)
        return super().calibrate(request, report)


def test_of_an_exported_store_the_model_is_asked_the_very_same_and_the_answers_come_back(
    new_store: Callable[[], str], tmp_path: Path
) -> None:
    """The same question, seed included, has the same draws, so that none need be taken here."""
    url, other, folder, model = new_store(), new_store(), tmp_path / "exported", Noting()
    recalibrate(url, Order((scenario_folder(),), seed=5), model)
    export(url, folder)
    recalibrate(other, Order((folder,)), model)
    assert_same(*model.asked)
    before = forecast(url)
    assert before["tools"]
    assert before == forecast(other)


def assert_same(one: object, other: object) -> None:
    """Equal in every field to the last bit, arrays and tables too, but for the row of a file that a finding names: the files are others."""
    assert type(one) is type(other)
    if is_dataclass(one) and not isinstance(one, type):
        for field in fields(one):
            if not (isinstance(one, Finding) and field.name == "row"):
                assert_same(getattr(one, field.name), getattr(other, field.name))
    elif isinstance(one, tuple) and isinstance(other, tuple):
        for each, its in zip(one, other, strict=True):
            assert_same(each, its)
    elif isinstance(one, pd.DataFrame) and isinstance(other, pd.DataFrame):
        pd.testing.assert_frame_equal(one, other, check_exact=True)
    elif isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        np.testing.assert_array_equal(one, other, strict=True)
    else:
        assert one == other


def test_what_was_changed_after_it_was_exported_is_told(write_history: Callable[..., Path], tmp_path: Path) -> None:
    url, folder = str(tmp_path / "one.db"), tmp_path / "exported"
    stored(url, write_history(), Choices())
    export(url, folder)
    (folder / "runs.csv").write_text("tool_id\n")
    with pytest.raises(Refusal, match=r"runs\.csv of 'exported' is missing or is not as it was exported"):
        recalibrate(str(tmp_path / "new.db"), Order((folder,)), Ready())
    assert not (tmp_path / "new.db").exists()


def test_a_folder_that_holds_something_else_is_left_as_it_is(write_history: Callable[..., Path], tmp_path: Path) -> None:
    url, folder = str(tmp_path / "one.db"), tmp_path / "mine"
    stored(url, write_history(), Choices())
    folder.mkdir()
    (folder / "letter.txt").write_text("mine")
    (tmp_path / "file").write_text("mine")
    for place in (folder, tmp_path / "file"):
        with pytest.raises(Refusal, match="nothing is written over"):
            export(url, place)
    with pytest.raises(Refusal, match="does not exist"):
        export(url, tmp_path / "no" / "where")
    assert [path.name for path in folder.iterdir()] == ["letter.txt"]
    (tmp_path / "empty").mkdir()
    export(url, tmp_path / "empty")
    assert (tmp_path / "empty" / "manifest.json").is_file()
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".wearfit")]


PROGRAM = (
    "import os, signal, sys\n"
    "from pathlib import Path\n"
    "import wearfit.workflow.export as it\n"
    "real = it._tables\n"
    "it._tables = lambda held, made: (real(held, made), os.kill(os.getpid(), signal.SIGKILL))\n"
    "it.export(sys.argv[1], Path(sys.argv[2]))\n"
)


def test_killed_before_its_end_it_leaves_no_folder_that_looks_whole(write_history: Callable[..., Path], tmp_path: Path) -> None:
    url, folder = str(tmp_path / "one.db"), tmp_path / "exported"
    stored(url, write_history(), Choices())
    killed = subprocess.run([sys.executable, "-c", PROGRAM, url, str(folder)], env=os.environ, check=False)
    assert killed.returncode == -signal.SIGKILL
    assert not folder.exists()
    assert not list(tmp_path.rglob("manifest.json"))
    export(url, folder)
    assert (folder / "manifest.json").is_file()


def test_a_disk_that_fills_up_leaves_nothing(write_history: Callable[..., Path], tmp_path: Path) -> None:
    import resource

    url, folder = str(tmp_path / "one.db"), tmp_path / "exported"
    stored(url, write_history(), Choices())
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (120, 120))
        try:
            export(url, folder)
        except Refusal:
            os._exit(7)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 7
    assert not folder.exists()
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".wearfit")]


texts = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=12)


@given(texts)
def test_a_marked_text_is_no_formula_and_comes_back(text: str) -> None:
    assert not kept_as_text(text).startswith(SIGNS)
    assert unmarked(kept_as_text(text)) == unmarked(text)
