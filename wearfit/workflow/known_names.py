"""Names in a question, written as the calibration writes them: a plant in other letters is not a new plant."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from wearfit.calibration import Calibration
from wearfit.forecasts.run_question import RunQuestion
from wearfit.records.choices import Choices
from wearfit.records.spellings import one_name, spelling_key


def known_tool(tool: str, calibration: Calibration, choices: Choices) -> str:
    """The name of a tool as the calibration has it; as asked where it has none such, or several."""
    return known_name(tool, calibration.levels.tool, choices.names.get("tool_id", {}))


def in_known_names(question: RunQuestion, calibration: Calibration, choices: Choices) -> RunQuestion:
    """A question with the names that the calibration has; a name that is new to it stays as asked."""
    levels, names = calibration.levels, choices.names
    return replace(
        question,
        tool_id=known_tool(question.tool_id, calibration, choices),
        plant_id=known_name(question.plant_id, levels.plant, names.get("plant_id", {})),
        resin_id=known_name(question.resin_id, levels.resin, names.get("resin_id", {})),
    )


def known_name(name: str, known: Iterable[str], chosen: Mapping[str, str]) -> str:
    """A name as the calibration has it; as asked where it has none such, or several."""
    levels = {str(level) for level in known}
    if name in levels or chosen.get(name) == name:  # to itself: it is not to be made one with another
        return name
    key = spelling_key(name)
    meant = chosen.get(name) or next((other for typed, other in chosen.items() if typed != other and spelling_key(typed) == key), name)
    if meant in levels:
        return meant
    alike = [level for level in levels if spelling_key(level) == spelling_key(meant) and one_name((level, meant))]
    return alike[0] if len(alike) == 1 else name
