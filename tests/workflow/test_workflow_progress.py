"""What is left is told from the measured pace, and only where there is one."""

import pytest

from wearfit.workflow.progress import STAGES, TELL_SHARE, WINDOW_SECONDS, Pace, Progress


class Clock:
    """Stands still until it is moved."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def after(clock: Clock, seconds: float, pace: Pace, share: float) -> Progress:
    clock.now += seconds
    return pace.progress("sample", share)


def test_nothing_is_said_of_the_time_before_anything_was_measured(clock: Clock):
    pace = Pace(clock)
    assert pace.progress("sample", 0.0).seconds_left is None
    assert after(clock, 1.0, pace, 0.0).seconds_left is None


def test_a_steady_pace_gives_the_exact_time_left(clock: Clock):
    pace = Pace(clock)
    pace.progress("sample", 0.0)
    for tenths in range(1, 10):
        progress = after(clock, 2.0, pace, tenths / 10)
        assert progress.share == tenths / 10
        assert progress.seconds_left == pytest.approx(20.0 - 2.0 * tenths)


def test_the_pace_is_that_of_the_last_seconds_so_that_slow_tuning_is_forgotten(clock: Clock):
    pace = Pace(clock)
    pace.progress("sample", 0.0)
    after(clock, 30.0, pace, 0.3)
    for step in range(1, 7):
        progress = after(clock, 1.0, pace, 0.3 + 0.1 * step)
    assert WINDOW_SECONDS < 6.0
    assert progress.seconds_left == pytest.approx(1.0)


def test_slow_work_keeps_two_marks_to_measure_between(clock: Clock):
    pace = Pace(clock)
    pace.progress("sample", 0.0)
    after(clock, 60.0, pace, 0.1)
    assert after(clock, 60.0, pace, 0.2).seconds_left == pytest.approx(480.0)


def test_a_share_that_falls_says_that_the_chains_go_on_for_longer(clock: Clock):
    pace = Pace(clock)
    pace.progress("sample", 0.0)
    assert not after(clock, 1.0, pace, 0.9).again
    again = after(clock, 1.0, pace, 0.0)
    assert again.again
    assert again.seconds_left is None
    further = after(clock, 1.0, pace, 0.25)
    assert further.again
    assert further.seconds_left == pytest.approx(3.0)
    assert further.sentence != after(Clock(), 0.0, Pace(clock), 0.2).sentence


def test_stages_that_cannot_tell_their_share_show_none(clock: Clock):
    pace = Pace(clock)
    for stage in STAGES:
        progress = pace.progress(stage, 0.0)
        assert progress.sentence == STAGES[stage]
        assert progress.seconds_left is None
        assert (progress.share is None) == (stage not in TELL_SHARE)


def test_the_next_of_several_begins_anew_and_says_which_it_is(clock: Clock):
    pace = Pace(clock)
    pace.progress("sample", 0.5, "the Weibull law")
    next_one = pace.progress("sample", 0.0, "the lognormal law")
    assert not next_one.again and next_one.seconds_left is None
    assert next_one.sentence == "the lognormal law: sampling"
    assert pace.progress("prepare", 0.0, "the lognormal law").sentence == "the lognormal law: preparing the data"


def test_scores_that_begin_again_are_no_chains_that_go_on(clock: Clock):
    pace = Pace(clock)
    pace.progress("score", 0.8)
    assert not pace.progress("score", 0.1).again
