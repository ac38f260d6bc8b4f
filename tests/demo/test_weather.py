"""Invented weather against values from outside."""

import numpy as np
import pytest

from wearfit.demo.scenario import SITES
from wearfit.demo.weather import dew_point, invent_sites, make_weather, steel_loss_um, sweating_share


def test_dew_point_by_magnus():
    """WMO-No. 8 coefficients (from memory): 20 degC at 50 % gives 9.255 degC."""
    assert dew_point(np.array([20.0]), np.array([50.0]))[0] == pytest.approx(9.255, abs=0.002)
    assert dew_point(np.array([13.0]), np.array([100.0]))[0] == pytest.approx(13.0)


@pytest.mark.parametrize(
    ("temp", "rh", "so2", "chloride", "loss"), [(10, 80, 20, 10, 50.517), (5, 75, 40, 1.5, 27.417), (20, 75, 3.95, 3.5, 15.308)]
)
def test_steel_loss_of_iso_9223(temp, rh, so2, chloride, loss):
    """Worked points of the dose-response function for carbon steel, ISO 9223:2012."""
    assert steel_loss_um(temp, rh, so2, chloride) == pytest.approx(loss, abs=0.001)


def test_a_mould_sweats_half_the_time_at_its_dew_point():
    assert sweating_share(np.array([12.0, -30.0, 50.0]), 12.0) == pytest.approx([0.5, 0.0, 1.0], abs=1e-6)


def test_plants_grow_wetter_and_saltier_towards_the_coast():
    weather = {s.plant_id: make_weather(s, 6, 121, np.random.default_rng(i)) for i, s in enumerate(SITES)}
    assert weather["steppe"].sweating.mean() < 0.1 < weather["valley"].sweating.mean() < 0.9 < weather["salt-quay"].sweating.mean()
    assert weather["clean-hall"].log_corrosivity == 0.0 and weather["clean-hall"].place == "hall"
    assert max(weather, key=lambda p: weather[p].log_corrosivity) == "salt-quay"


def test_seasons_fall_in_the_right_months():
    valley = next(s for s in SITES if s.plant_id == "valley")
    weather = make_weather(valley, 6, 121, np.random.default_rng(2))
    month = (np.arange(121) + 5) % 12
    assert weather.temp_c[month == 6].mean() > weather.temp_c[month == 0].mean() + 14.0
    assert weather.season[6] == pytest.approx(weather.sweating[month == 6].mean())
    assert weather.season[6] > weather.season[0]


def test_invented_sites_span_dry_to_salt():
    sites = invent_sites(40, seed=1)
    assert len({s.plant_id for s in sites}) == 40
    chloride = np.array([s.chloride_mg_m2_day for s in sites])
    assert chloride.min() < 3.0 and chloride.max() > 60.0
    assert invent_sites(40, seed=1) == sites
