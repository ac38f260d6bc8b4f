"""The fleet as one table, to be looked through or taken away."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from wearfit.store.overrides import Override
from wearfit.workflow.downloads import Value
from wearfit.workflow.overrides import said

COLUMNS: Final = (
    "Tool", "Design", "Class", "Plant", "Resins", "Status", "Order by", "Order day past", "Early wear-out", "Likely wear-out",
    "Late wear-out", "Chance within 12 months", "Chance of a gap if ordered today", "Shots this life", "Shots left, early",
    "Shots left, likely", "Shots left, late", "Shots a month", "Replacement due", "Owner says", "Owner's reason", "To know",
)  # fmt: skip
"""Days in ISO form, blank past the horizon; early, likely and late: 1, 5 and 9 in 10; chances from 0 to 1."""


def fleet_table(tools: Sequence[Mapping[str, Any]], overrides: Mapping[str, Override]) -> list[tuple[Value, ...]]:
    """Rows of COLUMNS.

    Parameters
    ----------
    tools : sequence of mapping
        As `answers.forecast` gives them.
    overrides : mapping of str to Override
        What owners say, by tool.
    """
    return [_row(tool, overrides.get(tool["tool_id"])) for tool in tools]


def _row(tool: Mapping[str, Any], override: Override | None) -> tuple[Value, ...]:
    made = tool["shots_this_life"]
    return (
        tool["tool_id"],
        tool["design_id"],
        tool["service_class"],
        tool["plant_id"],
        ", ".join(tool["conditions"]["resins"]),
        tool["status"].replace("_", " "),
        tool["order_by"],
        "yes" if tool["overdue"] else "no",
        *(tool["wear_out_on"][q] for q in ("p10", "p50", "p90")),
        tool["p_within_12_months"],
        tool["gap_risk_if_ordered_today"],
        _whole(made["p50"] if isinstance(made, Mapping) else made),
        *(_whole(tool["remaining_shots"][q]) for q in ("p10", "p50", "p90")),
        _whole(tool["conditions"]["shots_per_month"]),
        tool["replacement_due_on"],
        None if override is None else said(override),
        None if override is None else override.reason,
        tool["problem"],
    )


def _whole(number: float | None) -> int | None:
    return None if number is None else round(number)
