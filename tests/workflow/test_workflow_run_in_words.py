"""A next run and plants compared, in words that a reader can act on."""

import numpy as np
import pytest

from wearfit.calibration import Calibration, from_bytes
from wearfit.demo.shipped import shipped_calibration_bytes
from wearfit.forecasts.changed_air import Gain
from wearfit.forecasts.hangs_on import Dependence
from wearfit.workflow import plants_in_words, run_in_words
from wearfit.workflow.usual_run import shots_for, usual_run

ANSWER = {"tool_id": "T-1", "plant_id": "quay", "resin_id": "abs", "shots": 12_500, "p_wear_out_interval": [0.02, 0.21], "new": []}


@pytest.fixture(scope="module")
def demo() -> Calibration:
    return from_bytes(shipped_calibration_bytes())


def test_a_chance_says_what_it_is_of_and_how_sure_it_is() -> None:
    assert run_in_words.chance_sentence(ANSWER) == "that T-1 wears out before the run of 12,500 shots at quay in abs is finished."
    assert run_in_words.interval_sentence(ANSWER).endswith("with 9 in 10 certainty it lies between 1 in 50 and 1 in 5.")
    sure = ANSWER | {"p_wear_out_interval": [0.0501, 0.0502]}
    assert run_in_words.interval_sentence(sure) == "The records leave little doubt about that chance (5 %)."


@pytest.mark.parametrize(
    ("largest", "says"),
    [
        (0, "No run is small enough for a chance of 5 %."),
        (12_499, "This run goes beyond 5 %: the largest run within it is 12,500 shots."),
        (20_040, "This run stays within 5 %, and so would one of 20,000 shots."),
    ],
)
def test_a_run_is_held_against_what_is_accepted(largest: int, says: str) -> None:
    assert run_in_words.accepted_sentence(ANSWER, 0.05, largest) == says


@pytest.mark.parametrize(
    ("p", "says"), [(0.0004, "under 0.1 %"), (0.05, "5 %"), (0.0123, "1.2 %"), (0.345, "34 %"), (0.9995, "over 99.9 %")]
)
def test_a_chance_in_per_cent(p: float, says: str) -> None:
    assert run_in_words.percent(p) == says


def test_what_an_answer_hangs_on_names_the_first_and_says_what_would_tell() -> None:
    said = run_in_words.hangs_sentence((Dependence("resin", 0.4, 0.05, 0.2), Dependence("plant", 0.1, 0.1, 0.1)))
    assert "hangs most on what the resin does to a tool" in said
    assert "about 1 in 20, in the worst about 1 in 5" in said
    assert "40 % of the variance" in said
    assert set(run_in_words.CAUSES) == set(run_in_words.TELLS)
    assert run_in_words.hangs_sentence((Dependence("resin", 0.01, 0.1, 0.1),)).startswith("No single thing")
    alike = run_in_words.hangs_sentence((Dependence("resin", 0.4, 0.0002, 0.0003),))
    assert "In the best fifth of what is possible and in the worst the chance would be < 1 in 1,000; knowing" in alike


def test_odds_are_turned_so_that_the_chance_is_at_least_a_half() -> None:
    pairs = [("a", "b", 0.1), ("a", "c", 0.5), ("b", "c", 0.9996)]
    odds = plants_in_words.odds_of([{"plant_a": a, "plant_b": b, "p_a_wears_faster": p} for a, b, p in pairs])
    assert [plants_in_words.odds_sentence(o) for o in odds] == [
        "More than 999 in 1,000 that tools wear faster at b than at c",
        "About 9 in 10 that tools wear faster at b than at a",
        "About even between a and c",
    ]


def test_a_gain_says_how_much_longer_and_how_much_less_it_sweats() -> None:
    gain = Gain("a", {"p05": 1.0, "p50": 1.234, "p95": 1.5}, 0.9, 0.5, 0.1)
    assert plants_in_words.gain_sentence(gain) == "likely 1.23 times (1.00 to 1.50) the shots"
    assert plants_in_words.sweating_sentence(gain) == "moulds sweat 50 % of press hours, then 10 %"


def test_a_usual_run_is_what_lies_between_two_set_ups(demo: Calibration) -> None:
    for row, tool in enumerate(demo.levels.tool[demo.live.tool]):
        usual, setups = usual_run(demo, str(tool)), demo.live.setups_per_shot[row]
        assert usual.plant_id == demo.levels.plant[demo.live.plant[row]]
        assert setups == 0.0 or usual.shots == pytest.approx(1.0 / setups, rel=0.05)
        assert usual.resin_id is None or demo.live.resin_share[row].max() == demo.live.resin_share[row][demo.levels.resin == usual.resin_id]


def test_the_last_shot_need_not_be_full() -> None:
    parts = np.arange(1, 200)
    assert [shots_for(int(n), 16) for n in parts] == np.ceil(parts / 16).astype(int).tolist()
