"""Draws shared among processors are each filled once, and a loop gives the same whoever runs it."""

import numpy as np
import pytest

from wearfit.model.kept_loops import FEWEST, by_draws, kept, processors


@pytest.mark.parametrize("threads", ["1", "2", "999"])
@pytest.mark.parametrize("draws", [0, 1, FEWEST - 1, 2 * FEWEST, 2 * FEWEST + 1, 1001])
def test_every_draw_is_filled_once(monkeypatch: pytest.MonkeyPatch, threads: str, draws: int):
    monkeypatch.setenv("OMP_NUM_THREADS", threads)
    times = np.zeros(draws, dtype=int)

    def fill(part: slice) -> None:
        times[part] += 1

    by_draws(draws, fill)
    assert (times == 1).all()


def test_a_process_takes_no_more_threads_than_it_is_allowed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.delenv("OMP_NUM_THREADS", raising=False)
    there = processors()
    monkeypatch.setenv("OMP_NUM_THREADS", "1")
    assert processors() == 1
    monkeypatch.setenv("OMP_NUM_THREADS", str(there + 1))
    assert processors() == there


def test_what_goes_wrong_in_a_part_is_told(monkeypatch: pytest.MonkeyPatch):
    def fill(part: slice) -> None:
        raise ValueError(str(part))

    with pytest.raises(ValueError, match="slice"):
        by_draws(10 * FEWEST, fill)


@kept
def _sums(values: np.ndarray) -> np.ndarray:
    out = np.empty(len(values))
    for draw in range(len(values)):
        out[draw] = 0.0
        for value in values[draw]:
            out[draw] += value * value
    return out


def test_a_kept_loop_is_its_function():
    values = np.random.default_rng(1).normal(size=(7, 5))
    np.testing.assert_array_equal(_sums(values), _sums.py_func(values))
    np.testing.assert_allclose(_sums(values), (values**2).sum(axis=1), rtol=1e-14)
