"""The small fleet, a level of every group that nothing rests on, and a tool of which neither class nor age is known."""

from functools import cache

from small_fleet import CLIMATE, EVENTS, PLANTS, RESINS, RUNS, TOOLS, exposures_of

from wearfit.exposures.covariates import columns, spreads
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.data import ModelData
from wearfit.model.flat_draws import Flat
from wearfit.model.group_effects import Effects, group_effects
from wearfit.model.prepare import layout_of
from wearfit.model.priors import Priors


@cache
def odd_fleet() -> Exposures:
    return exposures_of(
        {
            "tools": TOOLS + "idle,103,,,urn,East,prehard,2018-01-02,,0\nriddle,,,,,,,2010-01-02,,\n",
            "runs": RUNS + "riddle,Heath,plain,2018-02-01,2018-02-20,9000,\n",
            "events": EVENTS,
            "plants": PLANTS + "Far,12,2,5,\n",
            "climate": CLIMATE,
            "resins": RESINS + "new,ABS,,\n",
        }
    )


def effects_of(flat: Flat, data: ModelData, exposures: Exposures, priors: Priors) -> Effects:
    levels = plant_levels(exposures.climate)
    layout = layout_of(exposures)
    p, scale = flat.all_parameters(data, layout), flat.scales(data)
    return group_effects(p, scale, layout, exposures, priors, columns(levels), spreads(levels), seed=3)
