"""Risks, dates and shots in words."""

import pytest

from wearfit.workflow.wording import count, factor, frequencies, frequency, month, readings_since, readings_uncounted, shots, spread


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (None, "-"), (0.0, "< 1 in 1,000"), (0.0009, "< 1 in 1,000"), (0.001, "about 1 in 1,000"), (1 / 150, "about 1 in 150"),
        (1 / 33, "about 1 in 35"), (1 / 12, "about 1 in 12"), (0.1, "about 1 in 10"), (0.19, "about 1 in 5"), (0.2, "about 1 in 5"),
        (0.25, "about 1 in 4"), (1 / 3, "about 1 in 3"), (0.4, "about 4 in 10"), (0.5, "about 1 in 2"), (0.6, "about 6 in 10"),
        (2 / 3, "about 2 in 3"), (0.75, "about 3 in 4"), (0.8, "about 8 in 10"), (0.9, "about 9 in 10"),
        (0.94, "about 9 in 10"), (0.946, "about 19 in 20"), (0.95, "about 19 in 20"), (0.96, "about 24 in 25"), (0.99, "about 99 in 100"),
        (0.9995, "> 999 in 1,000"), (1.0, "> 999 in 1,000"),
    ],
)  # fmt: skip
def test_frequencies(p: float | None, words: str):
    assert frequency(p) == words


def test_a_frequency_is_never_far_from_its_probability_and_rises_with_it():
    last = 0.0
    for thousandth in range(1, 1000):
        p = thousandth / 1000
        part, whole = (int(word.replace(",", "")) for word in frequency(p).removeprefix("about ").split(" in "))
        assert part / whole == pytest.approx(p, abs=0.06, rel=0.35)
        assert 0 < part < whole
        assert part / whole >= last
        last = part / whole


def test_intervals():
    assert frequencies([0.05, 0.14]) == "1 in 20 to 1 in 7"
    assert frequencies([0.05, 0.051]) == "1 in 20"
    assert frequencies(None) == "-"


def test_shots_are_no_finer_than_they_are_known():
    assert [shots(n) for n in (None, 0, 7.4, 999, 12_345, 1_234_567)] == ["-", "0", "7", "999", "12,300", "1,230,000"]
    assert spread({"p10": 1000.0, "p50": 20_449.0, "p90": 300_500.0}) == "20,400 (1,000 to 300,000)"
    assert spread({"p10": None, "p50": None, "p90": None}) == "-"
    assert spread(52_000) == "52,000"


def test_small_words():
    assert month("2027-03-14", "beyond") == "2027-03"
    assert month(None, "beyond") == "beyond"
    assert factor({"p05": 0.7, "p50": 0.8, "p95": 0.9}) == "0.80 (0.70 to 0.90)"
    assert factor({"p05": None, "p50": None, "p95": None}) == "-"
    assert count(1, "row", "rows") == "1 row"
    assert count(1200, "row", "rows") == "1,200 rows"


def test_readings_since_the_calibration_are_told_in_sentences():
    assert readings_since({"readings_since": 0, "readings_note": None}) == []
    assert readings_since({"readings_since": 1, "readings_note": None}) == ["1 reading since the calibration is counted."]
    assert readings_since({"readings_since": 2, "readings_note": "Why."}) == ["2 readings since the calibration are counted.", "Why."]
    assert readings_uncounted({"as_of": "2026-06-30", "readings_later": None}) == []
    assert readings_uncounted({"as_of": "2026-06-30", "readings_later": {"count": 1, "latest_on": "2026-07-10"}}) == [
        "1 stored reading is dated after 2026-06-30 and not counted: ask with `--as-of 2026-07-10` to count it."
    ]
