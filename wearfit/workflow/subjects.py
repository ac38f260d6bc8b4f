"""What a decision is about, and which forecast makes its draws."""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

from wearfit.calibration import Calibration
from wearfit.errors import Refusal
from wearfit.forecasts.alternatives import Alternatives, service_classes
from wearfit.forecasts.at_plants import AtPlants, at_plants
from wearfit.forecasts.life_ahead import LifeAhead, life_of_new, life_of_tool
from wearfit.forecasts.modifiable import Modifiable, modifiable
from wearfit.forecasts.new_tool import SERVICE_CLASSES, Kind, NewTool, new_tool
from wearfit.forecasts.news import NONE_SINCE, BySince
from wearfit.forecasts.stored_tool import StoredTool, stored_tool
from wearfit.forecasts.tool_ahead import ToolAhead, tool_ahead
from wearfit.records.choices import Choices
from wearfit.workflow.known_names import known_name


@dataclass(frozen=True)
class Asked:
    """What the user says the question is about; empty where they say nothing."""

    tool: str = ""
    service_class: str = ""
    steel: str = ""
    coating: str = ""
    design: str = ""
    maker: str = ""
    plant: str = ""
    resin: str = ""


MEANINGS: Final[Mapping[str, str]] = {
    "tool": "A live tool; where a new one is asked about, one like it.",
    "service_class": "Class of a tool to be cut: 101 to 105.",
    "steel": "Its cavity steel; the usual one of its class unless given.",
    "coating": "Its coating: chrome, nickel, nitride, pvd or dlc; none unless given.",
    "design": "Its design, where sister tools are on record.",
    "maker": "Its toolmaker, where others of its tools are on record.",
    "plant": "Where it is to run.",
    "resin": "What it is to run in.",
}


@dataclass(frozen=True)
class Heeded:
    """A calibration to answer for a day, and what readings since say; tools that they show to be worn stand as worn in it."""

    calibration: Calibration
    as_of: dt.date
    since: BySince = NONE_SINCE


@dataclass(frozen=True)
class SubjectOf:
    """How draws of a subject are made: which words of `Asked` it takes, and from which forecast."""

    takes: tuple[str, ...]
    ahead: Callable[[Heeded, Asked], Any]


def _live_tool(heeded: Heeded, tool: str) -> ToolAhead:
    return tool_ahead(heeded.calibration, tool, heeded.as_of, heeded.since)


def _tool(heeded: Heeded, asked: Asked) -> Any:
    return _live_tool(heeded, _needed(asked, "tool"))


def _stored_tool(heeded: Heeded, asked: Asked) -> StoredTool:
    return stored_tool(heeded.calibration, _needed(asked, "tool"), heeded.as_of, heeded.since)


def _tool_at_plants(heeded: Heeded, asked: Asked) -> AtPlants:
    return at_plants(heeded.calibration, _needed(asked, "tool"), asked.plant, heeded.as_of, heeded.since)


def _tool_to_modify(heeded: Heeded, asked: Asked) -> Modifiable:
    return modifiable(heeded.calibration, _needed(asked, "tool"), heeded.as_of, heeded.since)


def _kind(heeded: Heeded, asked: Asked) -> NewTool:
    return new_tool(heeded.calibration, kind_of(asked, _needed(asked, "service_class")))


def _tool_or_kind(heeded: Heeded, asked: Asked) -> NewTool:
    if not asked.tool:
        return _kind(heeded, asked)
    _refuse_both(asked)
    return _live_tool(heeded, asked.tool).sister


def _refuse_both(asked: Asked) -> None:
    beside = [name.replace("_", " ") for name in KIND if getattr(asked, name)]
    if beside:
        raise Refusal(f"A tool and {', '.join(beside)} were both given.", "Name a live tool, or say what a new one is to be.", 2)


def _life(heeded: Heeded, asked: Asked) -> LifeAhead:
    if not asked.tool:
        return life_of_new(_kind(heeded, asked))
    _refuse_both(asked)
    return life_of_tool(_live_tool(heeded, asked.tool))


def _classes(heeded: Heeded, asked: Asked) -> Alternatives:
    return service_classes(heeded.calibration, [kind_of(asked, name) for name in SERVICE_CLASSES])


def kind_of(asked: Asked, service_class: str) -> Kind:
    """The kind of tool asked about, in a class."""
    return Kind(
        service_class,
        _needed(asked, "plant"),
        {_needed(asked, "resin"): 1.0},
        steel=asked.steel,
        coating=asked.coating,
        design_id=asked.design,
        maker_id=asked.maker,
    )


def _needed(asked: Asked, name: str) -> str:
    value: str = getattr(asked, name)
    if not value:
        option = "--" + name.replace("_", "-")
        raise Refusal(f"It is not said which {name.replace('_', ' ')} is meant.", f"Give it with {option}.", 2)
    return value


CLASSES: Final = ("coating", "design", "maker", "plant", "resin")
KIND: Final = tuple(f.name for f in fields(Asked) if f.name != "tool")
SUBJECTS: Final[Mapping[str, SubjectOf]] = {
    "tool": SubjectOf(("tool",), _tool),
    "stored tool": SubjectOf(("tool",), _stored_tool),
    "tool at plants": SubjectOf(("tool", "plant"), _tool_at_plants),
    "tool to modify": SubjectOf(("tool",), _tool_to_modify),
    "kind": SubjectOf(KIND, _kind),
    "classes": SubjectOf(CLASSES, _classes),
    "life": SubjectOf(("tool", *KIND), _life),
    "tool or kind": SubjectOf(("tool", *KIND), _tool_or_kind),
}


def in_known_names(asked: Asked, calibration: Calibration, choices: Choices) -> Asked:
    """The same with the names that the calibration has; what is new to it stays as asked."""
    levels = calibration.levels
    known = {"tool": levels.tool, "design": levels.design, "maker": levels.maker, "plant": levels.plant, "resin": levels.resin}
    named = {
        name: known_name(value, known[name], choices.names.get(f"{name}_id", {}))
        if name in known and (value := getattr(asked, name))
        else getattr(asked, name)
        for name in MEANINGS
    }
    return Asked(**named)
