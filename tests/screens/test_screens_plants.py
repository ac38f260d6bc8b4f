"""Plants: compared, told apart, and what another air would give."""

from typing import Any

import pytest
from opened import Open

from wearfit.workflow.answers import plants as compare
from wearfit.workflow.wording import MOVING


@pytest.fixture(scope="module")
def compared(demo_records_store: str) -> dict[str, Any]:
    return compare(demo_records_store)


def test_the_page_opens_on_where_tools_last_longest_and_shortest(open_app: Open, demo_records_store: str, compared: dict[str, Any]) -> None:
    page = open_app(demo_records_store, "Plants")
    ranked = sorted(compared["plants"], key=lambda plant: plant["life_factor"]["p50"])
    life = ranked[-1]["life_factor"]
    best = f"Tools last longest at {ranked[-1]['plant_id']}, likely {life['p50']:.2f} times ({life['p05']:.2f} to {life['p95']:.2f})"
    assert best in page.words
    assert f"shortest at {ranked[0]['plant_id']}" in page.words
    assert page.words.count(MOVING) == 1


@pytest.mark.parametrize(
    ("by", "field"),
    [("sweating", "sweating_share"), ("corrosivity", "corrosivity_um_per_year"), ("time of wetness", "wet_hours_per_year")],
)
def test_each_measure_of_the_air_is_drawn_with_its_numbers(
    by: str, field: str, open_app: Open, demo_records_store: str, compared: dict[str, Any]
) -> None:
    page = open_app(demo_records_store, "Plants", by=by)
    assert not page.app.exception
    table = page.app.dataframe[0].value
    known = {plant["plant_id"]: plant for plant in compared["plants"]}
    curves = set() if by == "time of wetness" else {"fitted to the records", "believed beforehand"}
    assert set(table["Plant, or curve"]) == set(known) | curves
    for row in table.head(len(known)).to_dict("records"):
        plant = known[row["Plant, or curve"]]
        assert row[table.columns[1]] == pytest.approx(plant[field])
        assert row["Life, likely"] == pytest.approx(plant["life_factor"]["p50"])
    assert ("no relation is fitted to it" in page.words) == (by == "time of wetness")


def test_climate_and_the_rest_are_told_apart(open_app: Open, demo_records_store: str, compared: dict[str, Any]) -> None:
    table = open_app(demo_records_store, "Plants").app.dataframe[1].value.set_index("Plant").sort_index()
    for plant in compared["plants"]:
        row = table.loc[plant["plant_id"]]
        assert row["By climate, likely"] == pytest.approx(plant["life_factor_climate"]["p50"])
        assert row["By the rest, high (95 %)"] == pytest.approx(plant["life_factor_unexplained"]["p95"])


def test_odds_of_a_plant_against_each_other_one(open_app: Open, demo_records_store: str, compared: dict[str, Any]) -> None:
    page = open_app(demo_records_store, "Plants", compare="delta")
    about = [c for c in compared["contrasts"] if "delta" in (c["plant_a"], c["plant_b"])]
    assert page.html.count("<li>") == len(about) == 6
    pair = next(c for c in about if "clean-hall" in (c["plant_a"], c["plant_b"]))
    chance = pair["p_a_wears_faster"] if pair["plant_a"] == "delta" else 1.0 - pair["p_a_wears_faster"]
    assert chance > 0.95
    assert "that tools wear faster at delta than at clean-hall." in page.words
    table = page.app.dataframe[2].value
    assert len(table) == len(compared["contrasts"]) == 21
    assert table["Chance"].min() >= 0.5


@pytest.mark.parametrize("change", ["a dry hall", "a conditioned hall", "a warmer coolant"])
def test_another_air_is_told_for_every_plant(change: str, open_app: Open, demo_records_store: str) -> None:
    page = open_app(demo_records_store, "Plants", **{"if": change})
    assert not page.app.exception
    assert len(page.rows) == 7
    table = page.app.dataframe[3].value.set_index("Plant").sort_index()
    assert (table["Sweating hours after (share)"] <= table["Sweating hours before (share)"] + 1e-9).all()
    assert table.loc["clean-hall", "Life gained, likely"] == pytest.approx(1.0, abs=0.03)
    if change == "a conditioned hall":
        assert table["Life gained, likely"].idxmax() == "salt-quay"
        assert table.loc["salt-quay", "Life gained, low (5 %)"] > 1.0


def test_a_warmer_coolant_gives_more_the_warmer_it_is(open_app: Open, demo_records_store: str) -> None:
    sweats = [
        open_app(demo_records_store, "Plants", **{"if": "a warmer coolant", "warmer": degrees})
        .app.dataframe[3]
        .value.set_index("Plant")
        .sort_index()
        for degrees in ("2", "12")
    ]
    column = "Sweating hours after (share)"
    assert (sweats[1][column] <= sweats[0][column]).all()
    assert sweats[1].loc["delta", column] < sweats[0].loc["delta", column] - 0.1


def test_without_records_a_warmer_coolant_is_refused_in_a_sentence(open_app: Open, own_demo_store: str) -> None:
    page = open_app(own_demo_store, "Plants", **{"if": "a warmer coolant"})
    assert not page.app.exception
    assert "The store holds no records" in page.words or "No plant's climate is recorded" in page.words
    assert page.words.count("Plant against plant") == 1
