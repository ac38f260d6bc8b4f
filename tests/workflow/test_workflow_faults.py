"""What befalls a store in the middle of things: kills, a full disk, two at once, a damaged calibration. Nothing acknowledged is lost."""

import datetime as dt
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from ready_worker import Ready
from small_work import Shipped
from sqlalchemy import create_engine, text
from stores import make_store

from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.errors import Refusal
from wearfit.store import open_store
from wearfit.store.store import Store
from wearfit.workflow.answers import forecast, plants
from wearfit.workflow.hand_over import look
from wearfit.workflow.recalibrate import Order, recalibrate
from wearfit.workflow.standing import standing

Write = Callable[..., Path]
_HERE = Path(__file__).parent
KILLS = 5
MORE = "tool_id,plant_id,resin_id,started_on,ended_on,shots\nT2,south,abs,2021-05-01,2021-05-02,700\n"
EACH = 2  # recalibrations of each of two processes at once


@pytest.mark.server
@pytest.mark.skipif(sys.platform == "win32", reason="forks and signals are of POSIX alone")
def test_recalibrations_killed_at_random_moments_lose_nothing(tmp_path: Path, database: str):
    """Both kinds of store, in reading, storing, sampling and saving; the script looks after each kill, and tells what it found."""
    program = [sys.executable, "-W", "ignore::DeprecationWarning", str(_HERE / "die_recalibrating.py"), "--kills", str(KILLS)]
    done = subprocess.run(
        [*program, "--store", str(tmp_path / "wearfit.db"), "--store", database], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert [each["stage"] for each in told] == ["read", "store", "sample", "save", "read"] * 2


_RECALIBRATE = """
import sys
from pathlib import Path
sys.path[:0] = [sys.argv[1], sys.argv[2]]
from small_work import Shipped
from wearfit.workflow.recalibrate import Order, recalibrate
print("ready", flush=True)
sys.stdin.readline()
for path in sys.argv[4:]:
    print(recalibrate(sys.argv[3], Order((Path(path),), make_current=True), Shipped()).calibration, flush=True)
"""


@pytest.mark.parametrize("made", [True, False], ids=["on a store", "where there is none yet"])
def test_two_processes_recalibrating_at_once_keep_both(made: bool, url: str, write_history: Write):
    if made:
        make_store(url, calibrations=(True,))
    header = "tool_id,plant_id,resin_id,started_on,ended_on,shots\n"
    folders = [
        write_history(f"{process}-{i}", runs=f"{header}T1,north,abs,2020-02-{1 + i:02},2020-02-{1 + i:02},{100 * process + i + 1}\n"
                      f"T2,south-{process},abs,2020-03-{1 + i:02},2020-03-{1 + i:02},500\n")
        for process in range(2) for i in range(EACH)
    ]  # fmt: skip
    both = [
        subprocess.Popen(
            [sys.executable, "-c", _RECALIBRATE, str(_HERE), str(_HERE.parent / "screens"), url,
             *map(str, folders[EACH * process :][:EACH])],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for process in range(2)
    ]  # fmt: skip
    for each in both:
        assert each.stdout.readline() == "ready\n"
    for each in both:
        each.stdin.write("go\n")
        each.stdin.flush()
    acknowledged = []
    for each in both:
        out, err = each.communicate()
        assert each.returncode == 0, err
        acknowledged += [int(line) for line in out.split()]
    first = 2 if made else 1
    assert sorted(acknowledged) == list(range(first, first + 2 * EACH))
    with Store.open(url) as store:
        assert {entry.id for entry in store.calibrations()} >= set(acknowledged)
        # Under one lock the numbers follow each other as they became current.
        assert store.current_id() == max(acknowledged)
        assert len(store.uploads()) == 2 * EACH
        plants_of_runs = [row.values["plant_id"] for row in store.rows({"runs"})]
        assert [plants_of_runs.count(name) for name in ("north", "south-0", "south-1")] == [EACH, EACH, EACH]


def _spoil(url: str, number: int) -> None:
    engine = create_engine(url if "://" in url else f"sqlite:///{url}")
    with engine.begin() as raw:
        raw.execute(text("UPDATE calibrations SET content = :content WHERE id = :id"), {"content": b"spoilt", "id": number})
    engine.dispose()


def test_answers_come_from_the_last_good_calibration_and_say_so(url: str):
    make_store(url, calibrations=(True, True))
    sound = forecast(url)
    _spoil(url, 2)
    answer = forecast(url)
    assert answer.pop("warnings") == [
        "Calibration 2 is damaged in the store; calibration 1, the last good one before it, answers instead until `wearfit recalibrate` "
        "makes another."
    ]
    assert answer.pop("calibration") == 1
    assert answer == {key: value for key, value in sound.items() if key != "calibration"}
    assert "warnings" in plants(url)
    stands = standing(url)
    assert stands.current.id == 1
    assert stands.warning


def test_a_full_disk_while_a_calibration_is_saved_keeps_the_one_before(tmp_path: Path, write_history: Write):
    url = make_store(tmp_path / "wearfit.db", records=write_history(), calibrations=(True,))
    before = Path(url).stat().st_size
    # The kernel lets no file grow past this, as a full disk would not.
    program = (
        "import resource, signal, sys\nsys.path.insert(0, sys.argv[1])\nfrom small_work import Shipped\n"
        "from wearfit.errors import Refusal\nfrom wearfit.workflow.recalibrate import Order, recalibrate\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), resource.getrlimit(resource.RLIMIT_FSIZE)[1]))\n"
        "try:\n    recalibrate(sys.argv[2], Order(), Shipped())\nexcept Refusal as refusal:\n    print(refusal)\n"
    )
    limit = before // 2  # less than the calibration itself, which the log beside the store has to hold first
    done = subprocess.run(
        [sys.executable, "-c", program, str(_HERE.parent / "screens"), url, str(limit)], capture_output=True, text=True, check=True
    )
    assert f"The disk that holds the store {url}" in done.stdout
    assert "nothing was stored" in done.stdout
    with Store.open(url) as store:
        assert [entry.id for entry in store.calibrations()] == [1]
        assert store.calibration().blob == shipped_calibration_bytes()
        assert len(store.rows()) == 6
    assert recalibrate(url, Order(make_current=True), Ready()).current


def test_a_store_cut_short_is_refused_by_every_step_and_left_alone(tmp_path: Path, write_history: Write):
    url = make_store(tmp_path / "wearfit.db", calibrations=(True,))
    path = Path(url)
    path.write_bytes(path.read_bytes()[:-5000])
    before = path.read_bytes()
    for step in (lambda: forecast(url), lambda: recalibrate(url, Order((write_history(),)), Ready()), lambda: standing(url)):
        with pytest.raises(Refusal, match="cut short"):
            step()
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir() if file.name.startswith("wearfit.db")] == ["wearfit.db"]


def test_a_clock_that_is_set_back_takes_out_no_record_and_the_next_calibration_answers(
    url: str, write_history: Write, monkeypatch: pytest.MonkeyPatch
):
    class SetBack(dt.datetime):
        """Years behind what the store has seen, as after a dead battery."""

        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> dt.datetime:
            return dt.datetime(2010, 1, 1, tzinfo=tz)

    folder = write_history()
    recalibrate(url, Order((folder,), today=dt.date(2026, 11, 27)), Shipped())
    with Store.open(url) as store:
        rows, before = store.rows(), len(store.history())
    monkeypatch.setattr(open_store, "datetime", SetBack)
    back = dt.date(2010, 1, 1)
    seen = look(url, tuple((path.name, path.read_bytes()) for path in sorted(folder.iterdir())), None, back)
    assert (seen.outcome.withdrawn, seen.outcome.new, seen.outcome.changed) == (0, 0, 0)
    done = recalibrate(url, Order((folder,), today=back), Shipped())
    again = recalibrate(url, Order((write_history("more", runs=MORE),), today=back), Shipped())
    assert (done.current, again.current) == (True, True)
    with Store.open(url) as store:
        held = {(row.table, row.key): row.values for row in store.rows()}
        assert {(row.table, row.key): row.values for row in rows}.items() <= held.items()
        assert len(held) == len(rows) + 1
        assert [line.at.year for line in store.history()[before:]] == [2010] * (len(store.history()) - before)
        assert store.current_id() == again.calibration
    assert forecast(url)["calibration"] == again.calibration
    assert standing(url).newer_records is False
