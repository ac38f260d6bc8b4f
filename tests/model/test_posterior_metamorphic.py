"""More survival never foretells a shorter life, and less knowledge of the air never a narrower forecast."""

import numpy as np
import pytest
from one_class_fleet import Life, fleet_of
from priors_text import changed, switched_off
from sampled import Sampled, interval_width, mcse, sampled
from small_fleet import exposures_of

from wearfit.exposures.covariates import columns
from wearfit.exposures.places import plant_levels
from wearfit.exposures.table import Exposures
from wearfit.model.bands import band_offsets, class_log_band
from wearfit.model.data import PlantColumns
from wearfit.model.layout import PLANT_SLOPES
from wearfit.model.priors import parse_priors
from wearfit.model.sampler import Compiled

Array = np.ndarray

# --- a longer censored life --------------------------------------------------------------------------------------------

SURVIVED = (50_000, 300_000, 700_000, 1_500_000)  # [shots]


def new_tool_log_life(posterior: Sampled) -> Array:
    """Log life of a new tool of class 103 at reference conditions, shape (sample,)."""
    rng = np.random.default_rng(104)  # the same luck for every posterior
    mu = class_log_band(posterior.priors, band_offsets(posterior.priors))[2]
    n = posterior.flat.samples
    shape = np.exp(posterior.coefficient("log_shape"))
    log_life = mu + posterior.coefficient("class_offset.103") + np.log(rng.standard_exponential(n)) / shape
    for group in ("design", "maker", "tool"):
        log_life += posterior.scale(group) * rng.standard_normal(n)
    return log_life


def test_a_longer_censored_life_never_lowers_the_median_of_a_new_tool(compiled: Compiled) -> None:
    """Within one class and plant, the shape held; one of six lives goes on for longer and longer."""
    priors = parse_priors(switched_off("shape"))
    others = [Life(250_000, "worn"), Life(400_000, "worn"), Life(330_000), Life(280_000, "found worn"), Life(120_000)]
    medians, errors = [], []
    for shots in SURVIVED:
        log_life = new_tool_log_life(sampled(compiled, fleet_of([*others, Life(shots)]), priors, seed=14))
        medians.append(float(np.median(log_life)))
        errors.append(mcse(log_life, "median"))
    for i in range(1, len(SURVIVED)):
        assert medians[i] > medians[i - 1] - 4.0 * np.hypot(errors[i], errors[i - 1]), (medians, errors)
    assert medians[-1] > medians[0] + 4.0 * np.hypot(errors[-1], errors[0])  # and in the end it tells


# --- the air of a plant ------------------------------------------------------------------------------------------------


# An owner whose tools differ by little but the air that they run in, so that a forecast shows what is known of it.
ALIKE = {("shape", "median"): 8.0, ("shape", "log_sd"): 0.1} | {("group", g, "scale"): 0.01 for g in ("design", "maker", "tool")}
ALL_ALIKE = parse_priors(changed(*ALIKE.items()))
WARMTH = -9.0 * np.cos(2.0 * np.pi * np.arange(12) / 12.0)  # January to December
INLAND = "plant_id,month,temp_c,rh_pct\n" + "\n".join(f"Moor,2018-{i + 1:02d},{11.0 + t:.1f},80" for i, t in enumerate(WARMTH))


def fleet_at(plants: str, climate: str) -> Exposures:
    """Twelve tools that wore out in a conditioned hall, and one that has just begun at Moor."""
    shots = np.linspace(350_000, 450_000, 12).astype(int)
    runs = [f"T{i:02d},Heath,plain,2018-01-10,2018-01-29,{n},1" for i, n in enumerate(shots)]
    begun = "T12,Moor,plain,2018-02-01,2018-02-05,5000,1"
    sheets = {
        "tools": "\n".join(
            ["tool_id,service_class,cavity_steel,commissioned_on", *(f"T{i:02d},103,prehard,2018-01-02" for i in range(13))]
        ),
        "runs": "\n".join(["tool_id,plant_id,resin_id,started_on,ended_on,shots,setups", *runs, begun]),
        "events": "\n".join(["tool_id,date,event,cause", *(f"T{i:02d},2018-01-30,retire,wear" for i in range(12))]),
        "plants": f"plant_id,coolant_temp_c,chloride_mg_m2_day,so2_mg_m2_day,conditioned\nHeath,12,2,5,1\n{plants}",
        "resins": "resin_id,family\nplain,ABS",
    }
    return exposures_of({**sheets, "climate": climate} if climate else sheets)


def log_wear_at_moor(posterior: Sampled) -> Array:
    """Log wear per shot of a year there, from the arrays of the compiled model, shape (sample,)."""
    p, layout = posterior.parameters.all, posterior.layout
    moor = posterior.exposures.plant_ids.index("Moor")
    row = posterior.data.plant[moor]
    level = row[PlantColumns.level] + row[PlantColumns.spread] * p[:, row[PlantColumns.error].astype(int)]
    return np.asarray(p[:, layout.parameter("plant", np.array(moor))] + (level * p[:, PLANT_SLOPES]).sum(axis=1))


def test_without_its_climate_a_plant_is_less_known_and_so_are_the_lives_of_its_tools(compiled: Compiled) -> None:
    """An inland plant whose air is much what is taken for a plant's of which nothing is recorded."""
    with_air, without = fleet_at("Moor,10,3,5,0", INLAND), fleet_at("", "")
    levels = [columns(plant_levels(exposures.climate))[exposures.plant_ids.index("Moor")] for exposures in (with_air, without)]
    assert levels[0] == pytest.approx(levels[1], abs=0.06)  # or other slopes would count, not less knowledge
    known, missing = (sampled(compiled, exposures, ALL_ALIKE, seed=15, draws=4000) for exposures in (with_air, without))
    for quantity in (log_wear_at_moor, lambda posterior: new_tool_log_life(posterior) - log_wear_at_moor(posterior)):
        widths, errors = zip(*(interval_width(quantity(posterior)) for posterior in (known, missing)), strict=True)
        assert widths[1] > widths[0] + 4.0 * np.hypot(*errors), (widths, errors)
