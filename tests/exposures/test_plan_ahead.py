"""The plan, spread over the live tools month by month."""

import numpy as np
import pytest
from histories import Cells, event, exposures_of, live_of, run, tool

from wearfit.exposures.live import LiveTools

SISTERS = [tool("A", design_id="D", cavities="2"), tool("B", design_id="D", cavities="4"), tool("C", design_id="E")]
RUNS = [run("2020-01-06", "2020-01-15", 3000, tool_id="A"), run("2020-01-06", "2020-01-15", 1000, tool_id="B")]


def planned(*plan: Cells, events: tuple[Cells, ...] = (), runs: list[Cells] = RUNS, bill: tuple[Cells, ...] = ()) -> LiveTools:
    return live_of(runs, events, SISTERS, "2020-03-15", plan=plan, bill=bill)


def month(text: str, **cells: str) -> Cells:
    return {"month": text, **cells}


def test_without_a_plan_one_month_stands_empty() -> None:
    live = planned()
    assert live.plan_shots.shape == (3, 1)
    assert np.isnan(live.plan_shots).all()
    assert (live.plan_plant == -1).all()
    assert (live.plan_resin == -1).all()


def test_months_run_from_that_of_the_as_of_day() -> None:
    live = planned(
        month("2020-02", tool_id="A", shots="1"), month("2020-03", tool_id="A", shots="2"), month("2020-06", tool_id="B", shots="3")
    )
    assert live.plan_shots == pytest.approx(np.array([[2, np.nan, np.nan, np.nan], [np.nan, np.nan, np.nan, 3], [np.nan] * 4]), nan_ok=True)


def test_a_month_may_be_planned_empty() -> None:
    assert planned(month("2020-03", tool_id="A", shots="0")).plan_shots[:, 0] == pytest.approx([0, np.nan, np.nan], nan_ok=True)


def test_rows_of_one_tool_and_month_add_up() -> None:
    live = planned(
        month("2020-03", tool_id="A", shots="100", product_id="P"),
        month("2020-03", tool_id="A", shots="10", product_id="Q"),
        month("2020-03", design_id="D", shots="4"),
    )
    assert live.plan_shots[:, 0] == pytest.approx([113, 1, np.nan], nan_ok=True)


def test_a_designs_shots_are_split_over_its_live_copies_by_recent_use() -> None:
    assert planned(month("2020-03", design_id="D", shots="800")).plan_shots[:2, 0] == pytest.approx([600, 200])
    after = planned(month("2020-03", design_id="D", shots="800"), events=(event("2020-03-01", "retire", "A"),))
    assert after.plan_shots[:, 0] == pytest.approx([800, np.nan], nan_ok=True)


def test_copies_that_have_not_run_of_late_share_alike() -> None:
    assert planned(month("2020-03", design_id="D", shots="800"), runs=[]).plan_shots[:2, 0] == pytest.approx([400, 400])
    assert planned(month("2020-03", design_id="E", shots="800")).plan_shots[2, 0] == 800


def test_what_no_live_tool_can_make_is_left_out() -> None:
    gone = (event("2020-03-01", "retire", "C"),)
    for row in (
        month("2020-03", design_id="E", shots="800"),
        month("2020-03", tool_id="C", shots="800"),
        month("2020-03", design_id="Z", shots="1"),
    ):
        assert np.isnan(planned(row, events=gone).plan_shots).all()


BILL = ({"product_id": "P", "design_id": "D", "parts_per_unit": "8"}, {"product_id": "Q", "design_id": "D", "parts_per_unit": "1"})


def test_units_become_shots_through_the_bill_and_each_tools_cavities() -> None:
    live = planned(month("2020-03", design_id="D", units="1000", product_id="P"), bill=BILL)
    assert live.plan_shots[:2, 0] == pytest.approx([8000 * 0.75 / 2, 8000 * 0.25 / 4])


@pytest.mark.parametrize("product", [{}, {"product_id": "unknown"}])
def test_without_a_bill_a_unit_is_one_part(product: dict[str, str]) -> None:
    live = planned(month("2020-03", design_id="D", units="1000", **product), bill=BILL)
    assert live.plan_shots[:2, 0] == pytest.approx([1000 * 0.75 / 2, 1000 * 0.25 / 4])


def test_units_of_one_tool_go_through_the_bill_of_its_design() -> None:
    assert planned(month("2020-03", tool_id="B", units="1000", product_id="P"), bill=BILL).plan_shots[1, 0] == 2000
    assert planned(month("2020-03", tool_id="C", units="1000", product_id="P"), bill=BILL).plan_shots[2, 0] == 1000


def test_shots_count_before_units() -> None:
    assert planned(month("2020-03", tool_id="A", units="1000", shots="7")).plan_shots[0, 0] == 7


def test_the_plan_says_where_and_in_what() -> None:
    live = planned(
        month("2020-03", design_id="D", shots="10", plant_id="Salt Quay", resin_id="R2"), month("2020-04", tool_id="A", shots="10")
    )
    assert live.plan_plant.tolist() == [[1, -1], [1, -1], [-1, -1]]
    assert live.plan_resin.tolist() == [[1, -1], [1, -1], [-1, -1]]


def test_a_plant_and_a_resin_that_only_the_plan_names_have_an_index() -> None:
    plan = [month("2020-03", tool_id="A", shots="10", plant_id="Far Shore", resin_id="New")]
    live = planned(*plan)
    exposures = exposures_of(RUNS, (), SISTERS, "2020-03-15", plan=plan)
    assert exposures.plant_ids[live.plan_plant[0, 0]] == "Far Shore"
    assert exposures.resins.resin_id[live.plan_resin[0, 0]] == "New"
