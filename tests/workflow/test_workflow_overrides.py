"""An owner's judgement is kept with who and why, or refused in a sentence; every one stays."""

import datetime as dt
from pathlib import Path

import pytest

from wearfit.errors import Refusal
from wearfit.store.store import Store
from wearfit.workflow.overrides import day_said, keep_override, overrides_in_force, overrides_of, said

DAY = dt.date(2026, 6, 30)


@pytest.fixture
def url(tmp_path: Path) -> str:
    Store.open(str(tmp_path / "s.db")).close()
    return str(tmp_path / "s.db")


def test_the_newest_judgement_holds_and_the_older_ones_stay(url: str) -> None:
    keep_override(url, "T1", "Ines", "Measured.", DAY, wear_out_on=dt.date(2028, 1, 1))
    keep_override(url, "T2", "Ines", "Seen.", DAY, remaining_shots=50_000)
    keep_override(url, "T1", " Bo ", " Measured again. ", DAY, wear_out_on=dt.date(2027, 1, 1))
    holds = overrides_in_force(url)
    assert set(holds) == {"T1", "T2"}
    assert (holds["T1"].by, holds["T1"].reason, holds["T1"].wear_out_on) == ("Bo", "Measured again.", dt.date(2027, 1, 1))
    assert [kept.by for kept in overrides_of(url, "T1")] == ["Bo", "Ines"]
    assert all(kept.at.tzinfo is not None for kept in overrides_of(url, "T1"))


def test_a_judgement_taken_back_holds_no_longer(url: str) -> None:
    keep_override(url, "T1", "Ines", "Measured.", DAY, remaining_shots=0)
    keep_override(url, "T1", "Ines", "The gauge was off.", DAY)
    assert overrides_in_force(url) == {}
    assert [said(kept) for kept in overrides_of(url, "T1")] == ["the judgement before is taken back", "0 shots left on 30 Jun 2026"]


@pytest.mark.parametrize(
    ("changed", "problem"),
    [
        ({"by": "  "}, "not said who"),
        ({"reason": "\n"}, "reason is blank"),
        ({"reason": "x" * 2001}, "more than 2,000"),
        ({"wear_out_on": dt.date(2026, 6, 29)}, "lies before"),
        ({"remaining_shots": -1}, "not a number of shots"),
        ({"remaining_shots": 1, "wear_out_on": dt.date(2027, 1, 1)}, "Both"),
    ],
)
def test_what_makes_no_sense_is_refused_and_not_kept(changed: dict, problem: str, url: str) -> None:
    with pytest.raises(Refusal, match=problem) as refused:
        keep_override(url, **({"tool_id": "T1", "by": "Ines", "reason": "Seen.", "as_of": DAY} | changed))
    assert refused.value.status == 2
    assert overrides_of(url, "T1") == []


def test_shots_left_become_a_day_at_the_use_that_is_expected(url: str) -> None:
    kept = keep_override(url, "T1", "Ines", "Seen.", DAY, remaining_shots=12_000)
    assert day_said(kept, 1_000.0) == DAY + dt.timedelta(days=365)  # twelve twelfths of 365.25 days
    assert day_said(kept, 0.0) is None
    assert day_said(kept, 1e-6) is None


def test_no_store_is_made_for_a_judgement(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no store"):
        keep_override(str(tmp_path / "none.db"), "T1", "Ines", "Seen.", DAY)
    assert not (tmp_path / "none.db").exists()
