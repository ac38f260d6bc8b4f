"""Beliefs on which choices may hang, draw by draw, in words."""

import numpy as np

from wearfit.decisions.hangs_on import Lever
from wearfit.decisions.money import amount
from wearfit.forecasts.life_ahead import LifeAhead
from wearfit.forecasts.new_tool import NewTool
from wearfit.forecasts.tool_ahead import ToolAhead
from wearfit.law import Shape, k_of

Array = np.ndarray


def median_shots(log_life: Array, shape: Shape) -> Array:
    """Median life without sudden stops, shape (sample,): that of the Weibull law, whatever the law. [machine shots]"""
    return np.asarray(np.exp(log_life) * np.log(2.0) ** (1.0 / k_of(shape)))


def of_tool(tool: ToolAhead) -> tuple[Lever, ...]:
    """Beliefs about a live tool that is to be renewed."""
    return (
        Lever("What its next cavity set will last", median_shots(tool.fresh_log_life, tool.shape), _shots),
        Lever("How far it is worn", tool.age / median_shots(tool.log_life, tool.shape), lambda v: f"{100 * v:.0f} % of a usual life"),
        *_common(tool.shape, tool.sudden_per_shot),
    )


def of_refurbished(tool: ToolAhead) -> tuple[Lever, ...]:
    """The same, of one that may be refurbished."""
    return (*of_tool(tool), Lever("How much age a refurbishment takes away", tool.regained, lambda v: f"{100 * v:.0f} %"))


def of_new(tool: NewTool) -> tuple[Lever, ...]:
    """Beliefs about a tool yet to be cut."""
    return (
        Lever("What such a tool lasts", median_shots(tool.log_life, tool.shape), _shots),
        *_common(tool.shape, tool.sudden_per_shot),
    )


def of_life(life: LifeAhead) -> tuple[Lever, ...]:
    """Beliefs about one life."""
    return (
        Lever("What such a life lasts", median_shots(life.log_life, life.shape), _shots),
        *_common(life.shape, life.sudden_per_shot),
    )


def _common(shape: Shape, sudden: Array) -> tuple[Lever, ...]:
    return (
        Lever("How alike lives are (the law's shape)", k_of(shape), lambda v: f"{v:.1f}"),
        Lever("How often sudden stops come", 1e6 * sudden, lambda v: f"{v:.2g} in a million shots"),
    )


def _shots(value: float) -> str:
    return f"{amount(value)} shots"
