"""A plan given beside the records: designs are split, units become shots, and what cannot be used says why."""

import dataclasses

import numpy as np
import pytest
from known_fleet import Plant, Resin, Tool, known_calibration

from wearfit.calibration import Calibration
from wearfit.forecasts.plan_given import Makes, PlanRow, with_plan

MAKES = Makes(cavities={"b1": 4.0}, parts={("set", "body"): 2.0, ("set", "lid"): 3.0, ("kit", "body"): 1.0})


@pytest.fixture
def calibration() -> Calibration:
    tools = [
        Tool("b1", design=0, recent=(300.0,) * 24, plan={3: 999.0}), Tool("b2", design=0, recent=(100.0,) * 24), Tool("l1", design=1),
    ]  # fmt: skip
    return known_calibration(
        tools, designs={"body": True, "lid": True, "old": True}, plants=[Plant("Heath"), Plant("Shore")],
        resins=[Resin("plain"), Resin("glass")], retired=["r1"],
    )  # fmt: skip


def test_a_design_is_split_over_its_copies_by_what_they_made_of_late(calibration: Calibration):
    planned, problems = with_plan(calibration, [PlanRow("2026-07", design_id="body", shots=800.0)], MAKES)
    assert problems == [""]
    assert planned.live.plan_shots[:2, 2].tolist() == [600.0, 200.0]
    assert np.isnan(planned.live.plan_shots[2]).all()
    assert planned.live.plan_shots.shape == (3, 3)  # the plan on record is gone


def test_units_of_products_that_share_a_design_add_up(calibration: Calibration):
    rows = [
        PlanRow("2026-06", design_id="body", product_id="set", units=100.0),
        PlanRow("2026-06", design_id="body", product_id="kit", units=40.0),
    ]
    planned, problems = with_plan(calibration, rows, MAKES)
    assert problems == ["", ""]
    # 100 x 2 + 40 x 1 parts: three quarters of them in four cavities, the rest in one.
    assert planned.live.plan_shots[:2, 1].tolist() == pytest.approx([0.75 * 240.0 / 4.0, 0.25 * 240.0])


def test_a_product_alone_is_asked_of_every_design_of_its_bill(calibration: Calibration):
    planned, problems = with_plan(calibration, [PlanRow("2026-06", product_id="set", units=100.0)], MAKES)
    assert problems == [""]
    assert planned.live.plan_shots[:, 1].tolist() == pytest.approx([0.75 * 200.0 / 4.0, 0.25 * 200.0, 300.0])


def test_plant_and_resin_of_the_plan_are_kept(calibration: Calibration):
    row = PlanRow("2026-08", tool_id="l1", shots=10.0, plant_id="Shore", resin_id="glass")
    live = with_plan(calibration, [row], MAKES)[0].live
    assert (live.plan_plant[2, 3], live.plan_resin[2, 3], live.plan_shots[2, 3]) == (1, 1, 10.0)
    assert (live.plan_plant[:2] == -1).all()


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"tool_id": "nobody"}, "not in the records"),
        ({"tool_id": "r1"}, "retired"),
        ({"design_id": "old"}, "No live tool"),
        ({"tool_id": "b1", "plant_id": "Moon"}, "no plant"),
        ({"tool_id": "b1", "resin_id": "cheese"}, "no resin"),
        ({"tool_id": "b1", "month": "2026-05"}, "is over"),
        ({"tool_id": "b1", "month": "2099-04"}, "ahead"),
        ({}, "neither"),
        ({"product_id": "toy"}, "no product toy"),
    ],
)
def test_a_row_that_cannot_be_used_says_why_and_changes_nothing(calibration: Calibration, row: dict[str, str], words: str):
    good = PlanRow("2026-06", tool_id="b2", shots=5.0)
    bad = dataclasses.replace(PlanRow("2026-06", shots=7.0), **row)  # type: ignore[arg-type]
    planned, problems = with_plan(calibration, [bad, good], MAKES)
    assert words in problems[0]
    assert problems[0].endswith(".")
    assert problems[1] == ""
    assert np.nansum(planned.live.plan_shots) == 5.0
