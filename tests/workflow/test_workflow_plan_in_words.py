"""The plan in words."""

from wearfit.workflow.plan_in_words import order_words, renewals_words, short_words, some, summary


def order(**others: object) -> dict[str, object]:
    return {
        "tool_id": "T-1", "order_by": "2026-07-06", "overdue": False, "reason": "1 in 10", "ends_early": "2026-09-22", "ends_likely": None,
        "lead_time_weeks": 14.0, "p_late_if_ordered_today": 0.1365, **others,
    }  # fmt: skip


def document(**others: object) -> dict[str, object]:
    return {
        "months": 12, "tolerance": 0.1, "orders": [], "designs": [{"p_shortage": 0.3}, {"p_shortage": 0.1}],
        "spend_in_all": {"cost": {"p50": 184475.0}, "range_80": [124185.0, 272740.0]}, **others,
    }  # fmt: skip


def test_the_number_of_an_order_is_its_day_or_the_chance_that_it_comes_too_late():
    assert order_words(order()) == (
        "6 Jul 2026", "1 in 10 such tools has ended by Sep 2026, half later than in ten years; 14 weeks from order to tool",
    )  # fmt: skip
    assert order_words(order(overdue=True))[0] == "about 1 in 7"
    assert order_words(order(overdue=True, reason="it is worn by the records; lead time 14 weeks")) == (
        "worn out", "14 weeks from order to tool",
    )  # fmt: skip


def test_the_summary_counts_orders_spend_and_designs_at_risk():
    said = summary(document(orders=[order(), order(overdue=True)]))
    assert said.startswith("2 orders fall due in these 12 months, 1 of them now: their order day is past.")
    assert "Renewals cost some 184,000 in all; 8 in 10 futures lie between 124,000 and 273,000." in said
    assert said.endswith("1 design runs a chance above 10 % of a short month.")
    assert summary(document(months=1)).startswith("No order falls due in this month.")


def test_numbers_of_renewals_that_hardly_occur_are_left_out():
    design = {"expected_renewals": 1.098, "p_renewals": [0.0, 0.9115, 0.081, 0.006, 0.0015]}
    assert renewals_words(design) == ("1.1 to expect", "of 100 futures: once in 91, twice in 8, 3 times in 1")
    half = {"expected_renewals": 0.105, "p_renewals": [0.9, 0.095, 0.005]}
    assert renewals_words(half) == ("0.1 to expect", "of 100 futures: none in 90, once in 10")
    assert renewals_words({"expected_renewals": 0.02, "p_renewals": [0.98, 0.02]}) == (
        "0.02 to expect",
        "of 100 futures: none in 98, once in 2",
    )


def test_many_renewals_are_told_together():
    design = {"expected_renewals": 4.8, "p_renewals": [0.0, 0.0, 0.0, 0.2, 0.3, 0.2, 0.2, 0.1]}
    assert renewals_words(design)[1] == "of 100 futures: 3 times in 20, 4 times in 30, 5 times or more in 50"


def test_designs_at_risk_are_named():
    month = {"p": 0.26, "share_short": 0.002, "designs": [{"design_id": "ball", "p": 0.15}]}
    assert short_words(month) == ("about 1 in 4", "0.2 % of the shots not made; at risk: ball (about 1 in 7)")
    assert short_words(month | {"designs": []})[1] == "0.2 % of the shots not made"


def test_the_first_few_names():
    assert some(["a", "b"]) == "a, b"
    assert some(list("abcde"), 2) == "a, b and 3 more"
