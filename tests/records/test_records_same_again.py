"""Results kept for the very objects that they were worked out from."""

import pandas as pd

from wearfit.records import same_again as module
from wearfit.records.same_again import Kept, keeping, same_again

CALLS: list[str] = []


@same_again
def doubled(name: str, frame: pd.DataFrame) -> pd.DataFrame:
    CALLS.append(name)
    return frame * 2


def test_the_same_object_is_worked_out_once_while_results_are_kept():
    frame, kept = pd.DataFrame({"a": [1, 2]}), Kept()
    CALLS.clear()
    with keeping(kept):
        first = doubled("runs", frame)
        assert doubled("runs", frame) is first
    assert CALLS == ["runs"]
    with keeping(kept):
        assert doubled("runs", frame) is first
    assert CALLS == ["runs"]


def test_an_equal_object_and_another_table_are_worked_out_anew():
    frame = pd.DataFrame({"a": [1, 2]})
    CALLS.clear()
    with keeping({}):
        first = doubled("runs", frame)
        pd.testing.assert_frame_equal(doubled("runs", frame.copy()), first)
        doubled("events", frame)
    assert CALLS == ["runs", "runs", "events"]


def test_outside_of_keeping_and_of_large_tables_nothing_is_kept(monkeypatch):
    frame, kept = pd.DataFrame({"a": [1, 2]}), Kept()
    CALLS.clear()
    doubled("runs", frame)
    doubled("runs", frame)
    monkeypatch.setattr(module, "MOST_ROWS", 1)
    with keeping(kept):
        doubled("runs", frame)
        doubled("runs", frame)
    assert CALLS == ["runs"] * 4
    assert not kept
