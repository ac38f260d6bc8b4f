"""Numbers on the list of tools, by the names that the calibration has."""

from collections.abc import Sequence

from wearfit.calibration import Calibration
from wearfit.records.choices import Choices
from wearfit.records.identity import Row
from wearfit.workflow.known_names import known_name


def numbers_of_tools(rows: Sequence[Row], column: str, calibration: Calibration, choices: Choices) -> dict[str, float]:
    """A number on record for each tool that has one.

    Parameters
    ----------
    rows : sequence of Row
        Those of other tables are passed over.
    column : str
        Of the table `tools`.
    """
    return {
        known_name(row.values["tool_id"], calibration.levels.tool, choices.names.get("tool_id", {})): float(row.values[column])
        for row in rows
        if row.table == "tools" and row.values.get(column)
    }
