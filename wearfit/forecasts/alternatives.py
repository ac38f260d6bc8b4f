"""Draws of several tools yet to be cut, one of which will be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wearfit.calibration import Calibration
from wearfit.forecasts.luck import Luck
from wearfit.forecasts.new_tool import Kind, NewTool, fleet_costs, new_tool

Array = np.ndarray


@dataclass(frozen=True)
class Alternatives:
    """Tools by name, that meet the same luck."""

    tools: Mapping[str, NewTool]
    on_record: Mapping[str, float] = field(default_factory=dict)

    @property
    def samples(self) -> int:
        return self.first.samples

    @property
    def weights(self) -> Array:
        return self.first.weights

    @property
    def first(self) -> NewTool:
        return next(iter(self.tools.values()))

    def thinned(self, keep: Array) -> "Alternatives":
        """With some of the draws."""
        return replace(self, tools={name: tool.thinned(keep) for name, tool in self.tools.items()})


def service_classes(calibration: Calibration, kinds: Sequence[Kind]) -> Alternatives:
    """A tool of each service class, alike in all else.

    `price_103` is on record where live tools of class 103 have a price: their median. Prices of the other classes are of other products, so
    that they tell little of what this one would cost.
    """
    luck = Luck(calibration.identity.seed, "classes", calibration.samples)
    price = fleet_costs(calibration, "103").get("replacement_cost")
    tools = {kind.service_class: new_tool(calibration, kind, luck) for kind in kinds}
    return Alternatives(tools, {} if price is None else {"price_103": price})
