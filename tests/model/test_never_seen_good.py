"""A life with readings that was found worn, and last known good when it was new: its likelihood against the plain integral."""

import numpy as np
import pytest
from prior_chains import flat_of_priors, under_way
from small_fleet import PLANTS, RESINS, exposures_of

from wearfit import law
from wearfit.growth import Growth, Readings
from wearfit.growth_integral import log_marginal
from wearfit.model.clock import log_life, run_clock
from wearfit.model.data import ReadingColumns
from wearfit.model.posterior import summarise_rows
from wearfit.model.prepare import layout_of, prepare
from wearfit.model.priors import read_priors


@pytest.mark.parametrize("last_good_on", ["2018-01-02", "2018-02-01"])  # when it was new, and after a run
def test_pointwise_likelihood_is_the_integral_over_the_capacity(last_good_on: str) -> None:
    fleet = exposures_of(
        {
            "tools": "tool_id,service_class,cavity_steel,commissioned_on,opening_life_shots\nT,103,prehard,2018-01-02,0",
            "runs": "tool_id,plant_id,resin_id,started_on,ended_on,shots\nT,Heath,plain,2018-01-10,2018-01-30,200000\n"
            "T,Heath,plain,2018-02-10,2018-03-20,300000\nT,Heath,plain,2018-05-10,2018-06-20,10000",
            "events": f"tool_id,date,event,cause,last_good_on\nT,2018-03-25,retool,wear,{last_good_on}",
            "readings": "tool_id,date,feature,value,limit,new_value\nT,2018-01-30,flash,0.05,0.13,0",
            "plants": PLANTS,
            "resins": RESINS,
        }
    )
    layout, draws = layout_of(fleet), 5
    data = prepare(fleet, read_priors(), layout)
    flat = flat_of_priors(data, layout, draws, seed=3)
    rows = summarise_rows(flat, data, layout, fleet, *under_way(fleet, ["T"]), seed=1)
    p = flat.parameters(data, layout)
    clock, shape = run_clock(p, data), np.exp(p.coefficient("log_shape"))[:, 0]
    log_eta = log_life(p, data)[:, 0] + rows.tool[:, 0]
    of, reading = rows.features, data.reading[:1].T
    shown = Readings(reading[ReadingColumns.log_way], reading[ReadingColumns.below], reading[ReadingColumns.rounding])
    for i in range(draws):
        log_c = np.linspace(np.log(max(clock.good[i, 0], 1.0)), np.log(clock.end[i, 0]), 20_001)
        growth = Growth(of.level[i, 0], of.growth[i, 0], of.noise[i, 0], of.life[i, 0], of.life[i, 1])
        told = log_marginal(shown, np.log(clock.at_reading[i, 0]) - log_c[None], growth)
        log_density = law.log_hazard(np.exp(log_c), log_eta[i], shape[i]) - law.cumulative_hazard(np.exp(log_c), log_eta[i], shape[i])
        by_hand = np.log(np.trapezoid(np.exp(log_density + told + log_c), log_c))
        assert rows.log_likelihood[i, 0] == pytest.approx(by_hand, abs=0.01)
