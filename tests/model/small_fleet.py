"""A small invented fleet with one of everything that the likelihood tells apart, and its way to the model's arrays."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from wearfit.exposures.build import build_exposures
from wearfit.exposures.table import Exposures
from wearfit.model.axes import axes_of
from wearfit.model.data import ModelData
from wearfit.model.information import Information
from wearfit.model.layout import GROUPS, SHARES, Layout
from wearfit.model.parameters import leaning, products, slot_middles, slot_scales, slot_scores, unscaled_parameters
from wearfit.model.scale_coordinates import coordinate_of
from wearfit.records.assemble import assemble
from wearfit.records.readers.grid import Grid
from wearfit.records.sheets.interpret import interpret

TOOLS = """
tool_id,service_class,band_low,band_high,design_id,maker_id,cavity_steel,commissioned_on,history_from,opening_life_shots
exact,103,,,cup,North,prehard,2018-01-02,,
interval,103,,,cup,South,stainless,2018-01-02,,
unstated,101,,,lid,North,hard,2018-01-02,,
censored,104,,,lid,,prehard,2018-01-02,,
damaged,102,,,,South,hard,2018-01-02,,
late,103,,,tray,North,prehard,2015-03-01,,120000
banded,,80000,300000,tray,,aluminium,2018-01-02,,
any class,,,,cup,South,,2018-01-02,,
any class too,,,,,,copper_alloy,2018-01-02,,
"""

RUNS = """
tool_id,plant_id,resin_id,started_on,ended_on,shots,cycle_time_s
exact,Heath,plain,2018-01-10,2018-03-20,150000,30
exact,Quay,glass,2018-05-01,2018-07-10,90000,20
exact,Heath,plain,2018-09-01,2018-10-10,70000,
interval,Quay,plain,2018-01-15,2018-04-10,120000,
interval,Quay,glass,2018-06-01,2018-08-20,130000,
interval,Mill,bare,2018-10-01,2018-12-01,110000,
interval,Quay,acid,2019-02-01,2019-04-01,60000,
unstated,Mill,plain,2018-02-01,2018-12-01,700000,
unstated,Mill,glass,2019-02-01,2019-06-01,200000,
censored,Heath,acid,2018-03-01,2018-05-01,60000,
damaged,Quay,acid,2018-03-01,2018-06-01,200000,
damaged,Heath,plain,2018-09-01,2018-11-01,120000,
late,Heath,glass,2018-02-01,2018-05-01,90000,
late,Quay,plain,2018-07-01,2018-09-01,80000,
banded,Mill,plain,2018-02-01,2018-04-01,90000,
any class,Heath,plain,2018-03-01,2018-06-01,210000,
any class,Quay,glass,2018-08-01,2018-10-01,140000,
any class too,Mill,bare,2018-03-01,2018-06-01,40000,
"""

EVENTS = """
tool_id,date,event,cause,last_good_on,plant_id,renewed_share
exact,2018-08-01,retool,wear,,,
exact,2018-10-20,modify,,,,0.25
interval,2018-05-01,refurbish,planned,,,
interval,2018-09-01,refurbish,wear,2018-07-15,,
interval,2018-12-10,modify,,,,
unstated,2019-01-10,retool,,,,
unstated,2019-06-10,refurbish,,2019-04-01,,
damaged,2018-07-01,refurbish,damage,,,
late,2018-06-01,refurbish,planned,,,
banded,2018-04-10,retire,wear,,,
any class,2018-07-01,retool,wear,,,
any class,2018-07-02,move,,,Quay,
any class too,2018-06-10,retool,planned,,,
"""

PLANTS = """
plant_id,coolant_temp_c,chloride_mg_m2_day,so2_mg_m2_day,conditioned
Heath,12,2,5,1
Quay,10,120,8,0
Mill,,,,
"""

CLIMATE = "plant_id,month,temp_c,rh_pct\n" + "\n".join(
    f"Quay,2018-{month:02d},{temp},{rh}"
    for month, (temp, rh) in enumerate(zip([5, 5, 7, 10, 14, 17, 19, 19, 16, 13, 9, 6], [85] * 12, strict=True), 1)
)

RESINS = """
resin_id,family,filler_pct,filler_kind
plain,ABS,,
glass,PA66,30,GF
acid,PVC,,
"""


def cells(text: str) -> list[list[str]]:
    return [line.split(",") for line in text.strip().splitlines()]


def exposures_of(sheets: Mapping[str, str]) -> Exposures:
    """Exposures of tables given as CSV texts, up to their latest day."""
    upload = interpret("fleet", [], [Grid(f"{name}.csv", name, cells(text)) for name, text in sheets.items()])
    records = assemble(upload.rows, upload.empty_tables)
    assert not [f for f in records.findings if f.severity == "set_aside"]
    return build_exposures(records.as_of(records.latest_day))


@cache
def small_fleet() -> Exposures:
    return exposures_of({"tools": TOOLS, "runs": RUNS, "events": EVENTS, "plants": PLANTS, "climate": CLIMATE, "resins": RESINS})


@cache
def plated_fleet() -> Exposures:
    """The small fleet with a chrome-plated tool that runs a corrosive resin."""
    lines = TOOLS.strip().splitlines()
    coating = ["coating", *("chrome" if line.startswith("damaged,") else "" for line in lines[1:])]
    tools = "\n".join(f"{line},{cell}" for line, cell in zip(lines, coating, strict=True))
    return exposures_of({"tools": tools, "runs": RUNS, "events": EVENTS, "plants": PLANTS, "climate": CLIMATE, "resins": RESINS})


READINGS = """
tool_id,date,feature,value,limit,new_value,resolution
exact,2018-03-20,flash,0.05,0.13,0,0.01
exact,2018-07-10,flash,0.11,0.13,0,0.01
exact,2018-10-10,flash,<0.02,0.13,0,0.01
interval,2018-03-01,pin,7.98,7.94,8,0.001
interval,2018-07-10,pin,7.97,7.94,8,0.001
interval,2018-08-10,flash,0.09,0.13,0,
interval,2018-11-01,flash,0.04,0.13,0,0.01
interval,2018-11-01,pin,7.985,7.94,8,0.001
interval,2019-03-01,flash,0.06,0.13,0,0.01
unstated,2018-07-01,flash,0.08,0.13,0,0.01
unstated,2019-03-15,flash,0.05,0.13,0,0.01
unstated,2019-05-15,flash,0.09,0.13,0,0.01
censored,2018-04-01,flash,0.001,0.13,0,0.01
late,2018-03-10,pin,7.976,7.94,8,0.001
any class,2018-05-01,flash,0.08,0.13,0,0.01
any class,2018-09-15,flash,0.03,0.13,0,0.01
"""


@cache
def read_fleet() -> Exposures:
    """The small fleet with readings in lives of every ending."""
    return exposures_of(
        {"tools": TOOLS, "runs": RUNS, "events": EVENTS, "plants": PLANTS, "climate": CLIMATE, "resins": RESINS, "readings": READINGS}
    )


@dataclass(frozen=True)
class Coordinates:
    """Values of the sampler's coordinates, with or without a leading axis of draws."""

    z: np.ndarray
    share: np.ndarray
    w: np.ndarray
    slot: np.ndarray
    read: np.ndarray

    def draw(self, i: int) -> "Coordinates":
        return Coordinates(self.z[i], self.share[i], self.w[i], self.slot[i], self.read[i])

    def point(self, data: ModelData) -> dict[str, np.ndarray]:
        """One draw as a graph takes it, by its names."""
        odds, scales = np.log(self.share / (1.0 - self.share)), coordinate_of(self.w, data.log_from)
        return {"z": self.z, "share_logodds__": odds, "w_by_logarithm": scales, "slot": self.slot, "read": self.read}


def upright(root: np.ndarray) -> np.ndarray:
    """The symmetric root of the covariance that a root is of."""
    squares, axes = np.linalg.eigh(root @ root.T)
    return np.asarray(axes * np.sqrt(np.maximum(squares, 0.0)) @ axes.T)


def told_of_nothing(data: ModelData, layout: Layout) -> Information:
    """What a history tells that has no rows."""
    n = len(data.root)
    return Information(
        z=np.zeros((n, n)),
        between=np.zeros((n, layout.scaled)),
        turned=np.zeros((len(layout.turned),) * 2),
        mirrored=np.zeros(layout.mirrored.stop - layout.mirrored.start),
        effect=np.zeros(layout.scaled),
        likely_z=np.zeros(n),
        share=np.stack([np.zeros(len(SHARES)), np.ones(len(SHARES))]),
        read=np.stack([np.zeros(layout.reads), np.ones(layout.reads)]),
    )


def laid_anyhow(data: ModelData, layout: Layout) -> ModelData:
    """The same model with coordinates along axes of a made-up history, which turn, lean and scale them all."""
    rng, n = np.random.default_rng(11), len(data.root)
    slopes = rng.standard_normal((3 * n, n + layout.scaled))
    precision = slopes.T @ slopes
    of_effects = precision[n:, n:]
    told = replace(
        told_of_nothing(data, layout),
        z=precision[:n, :n],
        between=precision[:n, n:],
        turned=of_effects[np.ix_(layout.turned, layout.turned)],
        mirrored=np.diag(of_effects)[layout.mirrored],
        effect=0.2 * rng.standard_normal(layout.scaled),
        likely_z=0.3 * rng.standard_normal(n),
    )
    return replace(data, **vars(axes_of(told, data, layout)))


def prior_draws(data: ModelData, layout: Layout, draws: int, seed: int) -> Coordinates:
    """Coordinates drawn from their priors: of the same parameters for the same seed, along whatever axes the data lay them."""
    rng = np.random.default_rng(seed)
    w = rng.standard_normal((draws, len(GROUPS)))
    z = rng.standard_normal((draws, len(data.root))) @ upright(data.root).T @ np.linalg.pinv(data.root).T
    slot = rng.standard_normal((draws, layout.scaled))
    turned, padding = slot[:, layout.turned], ~data.contrast.any(axis=0)
    slot[:, layout.turned] = np.where(padding, turned, turned @ data.contrast @ data.contrast.T @ data.contrast)
    of_air = products(z, data, layout)
    scores = slot_scores(w, of_air, unscaled_parameters(z, data)[0], data, layout)
    slot = slot * slot_scales(w, data, layout) - slot_middles(w, scores, data, layout)
    return Coordinates(
        z=z + of_air @ data.lean_on_air.T + leaning(w, slot, data, layout),
        share=rng.beta(data.share_prior[0], data.share_prior[1], (draws, len(data.share_prior[0]))),
        w=w,
        slot=slot,
        read=rng.standard_normal((draws, layout.reads)),
    )
