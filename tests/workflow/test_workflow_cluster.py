"""A Dask cluster of two worker processes, one of which is killed midway: nothing is lost, and nothing is counted twice."""

import os
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from shot_logs import by_weeks, simulated, write_all
from small_jobs import Squared

from wearfit.errors import Refusal
from wearfit.press_logs.engine import Limits
from wearfit.press_logs.survey import Reading
from wearfit.workflow.fanout import Job, Standing, fan_out
from wearfit.workflow.kept_results import KeptFiles, job_key
from wearfit.workflow.progress import Progress
from wearfit.workflow.rollup import RollupOrder, rollup
from wearfit.workflow.ways import Cluster, Here

pytestmark = [pytest.mark.slow, pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")]

NUMBERS = tuple(range(1, 25))


@pytest.fixture
def cluster() -> Iterator[Cluster]:
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as local:
        yield Cluster(local.scheduler_address)


def worker_ids(cluster: Cluster) -> list[int]:
    """Processes of the workers."""
    from distributed import Client

    with Client(cluster.address, set_as_default=False) as client:
        return list(client.run(os.getpid).values())


def jobs() -> list[Job[int]]:
    return [Job(job_key("square", n), f"number {n}", n) for n in NUMBERS]


def kept(folder: Path) -> KeptFiles[int]:
    return KeptFiles(folder, lambda n: str(n).encode(), int, ".txt")


def begun(marks: Path, number: int) -> int:
    return len(list(marks.glob(f"{number}-*")))


def test_a_job_that_loses_its_worker_is_done_by_another_and_counts_once(cluster: Cluster, tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    marks.mkdir()
    told: list[Standing] = []
    found = fan_out(Squared(marks, dies=((7, 1),)), jobs(), cluster, kept(tmp_path / "kept"), told.append)
    assert found == [n * n for n in NUMBERS]
    assert begun(marks, 7) == 2
    assert [s.done for s in told] == list(range(len(NUMBERS) + 1))
    assert sorted(int(path.read_text()) for path in (tmp_path / "kept").iterdir()) == found


def test_a_rollup_that_loses_a_worker_midway_is_that_of_one_process(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wearfit.press_logs.survey.MOST_ROWS", 500)  # so that every day is a part
    shots = simulated(21, tools=4, sessions=30)
    write_all(tmp_path / "log", by_weeks(shots))
    limits = Limits(memory_mb=200)
    alone = RollupOrder(tmp_path / "log", tmp_path / "alone.csv", Reading(), limits)
    expected = rollup(alone, Here())
    killed: list[int] = []

    def kill(progress: Progress) -> None:
        if progress.part.startswith("9 of") and not killed:
            killed.append(worker_ids(cluster)[0])
            os.kill(killed[0], signal.SIGKILL)

    spread = RollupOrder(tmp_path / "log", tmp_path / "spread.csv", Reading(), limits)
    document = rollup(spread, cluster, kill)
    assert killed
    assert killed[0] not in worker_ids(cluster)
    assert spread.out.read_bytes() == alone.out.read_bytes()
    assert document["shots"] == expected["shots"] == len(shots)
    assert len(list((tmp_path / "spread.csv.parts").iterdir())) == document["parts_drawn"] > 30


def test_a_job_that_kills_its_workers_is_given_up_and_the_others_are_kept(cluster: Cluster, tmp_path: Path) -> None:
    marks = tmp_path / "marks"
    marks.mkdir()
    with pytest.raises(Refusal, match=r"Number 3: Its workers died each time"):
        fan_out(Squared(marks, dies=((3, 99),)), jobs()[:6], cluster, kept(tmp_path / "kept"))
    assert sorted(int(path.read_text()) for path in (tmp_path / "kept").iterdir()) == [1, 4, 16, 25, 36]


def test_refusals_and_faults_come_back_from_a_cluster(cluster: Cluster, tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="Number 2: 2 has no square"):
        fan_out(Squared(tmp_path, refuses=(2,)), jobs(), cluster)
    with pytest.raises(Refusal, match="Number 4: It failed by a fault of the program: ArithmeticError: 4 is odd"):
        fan_out(Squared(tmp_path, breaks=(4,)), jobs(), cluster)


def test_an_interrupt_leaves_the_cluster_to_others(cluster: Cluster, tmp_path: Path) -> None:
    def interrupt(standing: Standing) -> None:
        if standing.done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fan_out(Squared(tmp_path), jobs(), cluster, kept(tmp_path / "kept"), interrupt)
    assert len(list((tmp_path / "kept").iterdir())) == 3
    assert fan_out(Squared(tmp_path), jobs(), cluster, kept(tmp_path / "kept")) == [n * n for n in NUMBERS]


def test_where_no_scheduler_answers_it_is_told() -> None:
    for address in ("tcp://127.0.0.1:9", "nonsense"):
        with pytest.raises(Refusal, match="No Dask scheduler answers") as refused:
            fan_out(abs, jobs(), Cluster(address))
        assert refused.value.status == 2
