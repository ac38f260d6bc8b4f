"""Calibrations written by hand: parameters are known, so that answers have closed forms."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from wearfit.calibration import (
    STORAGE_QUANTILES,
    Calibration,
    DesignTable,
    Draws,
    FeaturePopulation,
    Identity,
    Levels,
    LiveTable,
    NotedTable,
    PlantTable,
    PriorDraws,
    ReadingTable,
    ReadTable,
    ResinTable,
    TrailTable,
)
from wearfit.exposures.classes import CLASSES, STEEL_GROUPS
from wearfit.exposures.covariates import MONTH_COVARIATES, PLANT_COVARIATES
from wearfit.growth import Growth, Readings
from wearfit.law import WEIBULL, shape_of_draws
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.remaining import NODES, Remaining, Track, packed, remaining

AS_OF = dt.date(2026, 5, 31)  # the last day of a month, so that whole months lie ahead
NEVER = -200.0  # log of a rate or an amount that does not count
RECENT_MONTHS = 24
PRIOR_SAMPLES = 7
YEAR_OF_ZEROS = (0.0,) * 12
LIFE_SD, GROWTH_SD = 0.15, 0.15  # of a feature's readings from life to life
FEATURE_LOC, FEATURE_COMMON_SD, FEATURE_OWN_SD = np.array([0.0, 0.1, -1.6]), np.array([0.15, 0.2, 0.3]), np.array([0.1, 0.15, 0.2])


def day_number(day: dt.date) -> float:
    """Days since 1970-01-01."""
    return float((day - dt.date(1970, 1, 1)).days)


@dataclass(frozen=True)
class Tool:
    """A live tool. `spent` and `life` are one number or one a draw. [reference shots]"""

    tool_id: str = "cup-1"
    spent: ArrayLike = 0.0
    life: ArrayLike = 1000.0
    status: str = "running"
    plant: int = 0
    design: int = 0
    service_class: int = CLASSES.index("103")
    log_band: float = 0.0
    steel: str = "soft"
    modifications: int = 0
    setups_per_shot: float = 0.0
    setup_share: float = 1.0
    shots_this_life: float = 0.0
    opening: ArrayLike = 0.0  # behind the life at entry, where that is reckoned
    mix: tuple[float, ...] = (1.0,)  # shares of the resins
    stated: float = np.nan  # shots_per_month
    recent: Sequence[float] = ()  # the latest last; NaN before them
    plan: Mapping[int, float] = field(default_factory=dict)  # shots by months after the as-of month
    plan_plant: Mapping[int, int] = field(default_factory=dict)
    plan_resin: Mapping[int, int] = field(default_factory=dict)
    lead_weeks: float = np.nan
    due: float = np.nan
    storage_share: tuple[float, ...] = (0.0,) * len(STORAGE_QUANTILES)
    in_store: bool = False
    store_preserved: float = 0.0
    store_log_corrosivity: float = 0.0
    stood_years: tuple[float, float] = (0.0, 0.0)  # since its last shot: idle, in store
    stood_preserved: tuple[float, float] = (0.0, 0.0)
    stood_log_corrosivity: tuple[float, float] = (0.0, 0.0)
    idle_from: dt.date | None = None
    recorded_share: float = 1.0  # of the wear spent
    trail: Sequence[tuple[dt.date, float]] = ()  # share of the recorded wear that had come by the end of a day
    read_from: dt.date = dt.date(2020, 1, 1)
    renewals: int = 0
    readings: "Sequence[Read]" = ()


@dataclass(frozen=True)
class Read:
    """A reading that the calibration saw, at a share of the wear now that is one number or one a draw."""

    day: dt.date
    feature: str
    way: float
    share: ArrayLike
    rounding: float = 0.0


@dataclass(frozen=True)
class Feature:
    """Level, growth and noise of a feature's readings, one number or one a draw."""

    level: ArrayLike = 0.0
    growth: ArrayLike = 1.1
    noise: ArrayLike = 0.2


@dataclass(frozen=True)
class Plant:
    """A plant. `wear`, `climate` and `sudden` are logs of factors, one number or one a draw."""

    plant_id: str = "Heath"
    wear: ArrayLike = 0.0
    climate: ArrayLike = 0.0
    sudden: ArrayLike = 0.0
    season: tuple[float, ...] = YEAR_OF_ZEROS  # sweating, less its yearly mean
    seen: bool = True


@dataclass(frozen=True)
class Resin:
    """A resin. `wear` is the log of a factor, one number or one a draw."""

    resin_id: str = "plain"
    wear: ArrayLike = 0.0
    filler: float = 0.0
    corrosive: float = 0.0
    seen: bool = True


def known_calibration(
    tools: Sequence[Tool],
    *,
    shape: ArrayLike = 2.5,
    samples: int = 2000,
    plants: Sequence[Plant] = (Plant(),),
    resins: Sequence[Resin] = (Resin(),),
    designs: Mapping[str, bool] | None = None,
    coefficients: Mapping[str, ArrayLike] | None = None,
    scales: Mapping[str, float] | None = None,
    prior: Mapping[str, ArrayLike] | None = None,
    retired: Sequence[str] = (),
    lead_weeks: float = 10.0,
    lead_log_sd: float = 0.0,
    as_of: dt.date = AS_OF,
    seed: int = 11,
    features: Mapping[str, Feature] | None = None,
    laws: int | Sequence[int] = WEIBULL,
) -> Calibration:
    """A calibration of these tools.

    Parameters
    ----------
    shape : float or array, shape (sample,)
    designs : mapping of str to bool
        Designs, and whether some record rests on them.
    coefficients, prior : mapping of str to float or array
        Coefficients that are not zero, by name. Set-ups cost nothing and sudden stops do not come unless given here.
    scales : mapping of str to float
        Standard deviations of groups, zero unless given.
    retired : sequence of str
        Tools that are known and not live.
    features : mapping of str to Feature
        Of readings; those of a tool stand in order of feature and day.
    laws : int or sequence of int
        Places in `law.LAWS`, one for all or one a draw.
    """
    given = {"log_shape": np.log(shape), "log_setup": NEVER, "log_sudden_per_life": NEVER, "log_sudden_per_handling": NEVER}
    given |= {"reading.log_life_sd": np.log(LIFE_SD), "reading.log_life_growth_sd": np.log(GROWTH_SD), **(coefficients or {})}
    known_features = features or {}
    read = [(i, tool) for i, tool in enumerate(tools) if tool.readings]
    seen = [(r, reading) for r, (_, tool) in enumerate(read) for reading in tool.readings]
    known_designs = designs or {"cup": True}
    months = 1 + max((month for tool in tools for month in (*tool.plan, *tool.plan_plant, *tool.plan_resin)), default=0)

    def draws(values: Sequence[ArrayLike], n: int = samples) -> np.ndarray:
        return np.stack([np.broadcast_to(np.asarray(v, dtype=float), n) for v in values], axis=1) if values else np.zeros((n, 0))

    def text(values: Sequence[str]) -> np.ndarray:
        return np.array(list(values), dtype=object)

    def column(name: str, kind: type = float) -> np.ndarray:
        return np.array([getattr(tool, name) for tool in tools], dtype=kind)

    def ahead(name: str, blank: float, kind: type = float) -> np.ndarray:
        return np.array([[getattr(tool, name).get(m, blank) for m in range(months)] for tool in tools], dtype=kind).reshape(
            len(tools), months
        )

    recent = np.full((len(tools), RECENT_MONTHS), np.nan)
    for row, tool in zip(recent, tools, strict=True):
        row[RECENT_MONTHS - len(tool.recent) :] = tool.recent
    n_plants, n_resins = len(plants), len(resins)
    unknown = np.full(n_plants, np.nan)
    season = np.zeros((n_plants, 12, len(MONTH_COVARIATES)))
    for at, plant in zip(season, plants, strict=True):
        at[:, 0] = plant.season

    def left(tool: Tool) -> Remaining:
        """What the readings of a tool say of what is left of its life."""
        spent, life, k = draws([tool.spent, tool.life, shape]).T
        tracks = []
        for name in known_features:
            of = [reading for reading in tool.readings if reading.feature == name]
            law = Growth(*draws([*vars(known_features[name]).values(), LIFE_SD, GROWTH_SD]).T)
            way, rounding = np.log([r.way for r in of]), np.array([r.rounding for r in of])
            tracks += [Track(Readings(way, np.zeros(len(of)), rounding), np.log(draws([r.share for r in of])), law)] if of else []
        return remaining(spent, np.log(life), shape_of_draws(k, np.broadcast_to(laws, samples)), tracks)

    lefts = [left(tool) for _, tool in read]
    return Calibration(
        identity=Identity(
            as_of=as_of.isoformat(), fingerprint="known", seed=seed, lives=len(tools), wear_outs=0, log_band=(0.0,) * len(CLASSES),
            lead_time_weeks=lead_weeks, lead_time_log_sd=lead_log_sd, noted_power=2.0, diagnostics={"passed": True}, priors="",
        ),
        levels=Levels(
            coefficient=text(COEFFICIENTS), share=text(SHARES), group=text(GROUPS),
            tool=text([*(tool.tool_id for tool in tools), *retired]), plant=text([p.plant_id for p in plants]),
            resin=text([r.resin_id for r in resins]), design=text(list(known_designs)), maker=text([]), service_class=text(CLASSES),
            observation=text([]), feature=text(list(known_features)),
        ),
        draws=Draws(
            coefficient=draws([given.get(name, 0.0) for name in COEFFICIENTS]),
            share=draws([0.5 for _ in SHARES]),
            scale=draws([(scales or {}).get(group, 0.0) for group in GROUPS]),
            plant=draws([p.wear for p in plants]),
            plant_climate=draws([p.climate for p in plants]),
            resin=draws([r.wear for r in resins]),
            design=draws([0.0 for _ in known_designs]),
            maker=draws([]),
            tool=draws([0.0 for _ in (*tools, *retired)]),
            sudden_plant=draws([p.sudden for p in plants]),
            wear_spent=draws([tool.spent for tool in tools]),
            opening_shots=draws([tool.opening for tool in tools]),
            characteristic_life=draws([tool.life for tool in tools]),
            log_likelihood=draws([]),
            feature_level=draws([f.level for f in known_features.values()]),
            feature_growth=draws([f.growth for f in known_features.values()]),
            feature_noise=draws([f.noise for f in known_features.values()]),
            reading_share=np.log(draws([reading.share for _, reading in seen])),
            read_told=np.stack([np.zeros((samples, NODES), dtype=np.uint8), *(packed(at.log_likelihood) for at in lefts)], axis=1)[:, 1:],
            recorded_share=np.round(255.0 * draws([tool.recorded_share for tool in tools])).astype(np.uint8),
            noted_share=draws([]),
            law=np.broadcast_to(np.asarray(laws, dtype=np.int8), samples),
        ),
        prior=PriorDraws(
            coefficient=draws([(prior or {}).get(name, 0.0) for name in COEFFICIENTS], PRIOR_SAMPLES),
            share=draws([0.5 for _ in SHARES], PRIOR_SAMPLES),
            scale=draws([0.0 for _ in GROUPS], PRIOR_SAMPLES),
            log_life=draws([0.0 for _ in CLASSES], PRIOR_SAMPLES),
        ),
        plants=PlantTable(
            seen=np.array([p.seen for p in plants], dtype=np.int8), lives=np.ones(n_plants), wear_outs=np.zeros(n_plants),
            shots=np.full(n_plants, 5000.0), rh_mean_pct=unknown, sweating_share=unknown, wet_hours_per_year=unknown,
            corrosivity_um_per_year=unknown, corrosivity_category=text(["" for _ in plants]),
            level=np.zeros((n_plants, len(PLANT_COVARIATES))), spread=np.zeros((n_plants, len(PLANT_COVARIATES))),
            unknown_level=np.full(len(PLANT_COVARIATES), 0.5), unknown_spread=np.full(len(PLANT_COVARIATES), 0.25), season=season,
        ),
        resins=ResinTable(
            seen=np.array([r.seen for r in resins], dtype=np.int8), filler=np.array([r.filler for r in resins], dtype=float),
            corrosive=np.array([r.corrosive for r in resins], dtype=float), described=np.ones(n_resins, dtype=np.int8),
            unknown=np.array([0.3, 0.4]),
        ),
        designs=DesignTable(seen=np.array(list(known_designs.values()), dtype=np.int8)),
        live=LiveTable(
            tool=np.arange(len(tools)), status=text([tool.status for tool in tools]), service_class=column("service_class", int),
            log_band=column("log_band"), design=column("design", int), plant=column("plant", int),
            steel_group=np.array([STEEL_GROUPS.index(tool.steel) for tool in tools], dtype=int),
            modifications=column("modifications", int), shots_this_life=column("shots_this_life"),
            moved_by_steel=np.zeros(len(tools)), moved_by_past=np.zeros(len(tools)),
            setups_per_shot=column("setups_per_shot"), setup_share=column("setup_share"), recent_shots=recent,
            resin_share=np.array([[*tool.mix, *[0.0] * n_resins][:n_resins] for tool in tools], dtype=float).reshape(len(tools), n_resins),
            shots_per_month=column("stated"), plan_shots=ahead("plan", np.nan), plan_plant=ahead("plan_plant", -1, int),
            plan_resin=ahead("plan_resin", -1, int), lead_time_weeks=column("lead_weeks"), replacement_due=column("due"),
            replacement_cost=column("due"), refurbish_cost=column("due"),
            moved_by_readings=np.zeros(len(tools)),
            in_store=column("in_store", int), store_preserved=column("store_preserved"),
            store_log_corrosivity=column("store_log_corrosivity"), moved_by_storage=np.zeros(len(tools)),
            storage_share=np.array([tool.storage_share for tool in tools]).reshape(len(tools), len(STORAGE_QUANTILES)),
            **{
                name: np.array([getattr(tool, name) for tool in tools], dtype=float).reshape(len(tools), 2)
                for name in ("stood_years", "stood_preserved", "stood_log_corrosivity")
            },
            idle_from=np.array([np.nan if tool.idle_from is None else day_number(tool.idle_from) for tool in tools], dtype=float),
            read_from=np.array([day_number(tool.read_from) for tool in tools]), renewals=column("renewals", int),
        ),
        reads=ReadTable(
            np.array([i for i, _ in read], dtype=int), np.array([at.q_low for at in lefts]), np.array([at.q_high for at in lefts])
        ),
        readings=ReadingTable(
            read=np.array([r for r, _ in seen], dtype=int),
            day=np.array([day_number(reading.day) for _, reading in seen], dtype=float),
            feature=np.array([list(known_features).index(reading.feature) for _, reading in seen], dtype=int),
            log_way=np.log([reading.way for _, reading in seen]),
            below=np.zeros(len(seen), dtype=int),
            rounding=np.array([reading.rounding for _, reading in seen], dtype=float),
        ),
        features=FeaturePopulation(FEATURE_LOC, FEATURE_COMMON_SD, FEATURE_OWN_SD),
        trail=TrailTable(
            live=np.array([i for i, tool in enumerate(tools) for _ in tool.trail], dtype=int),
            time=np.array([day_number(day) + 1.0 for tool in tools for day, _ in tool.trail], dtype=float),
            share=np.array([share for tool in tools for _, share in tool.trail], dtype=float),
        ),
        noted=NotedTable(*(np.zeros(0) for _ in range(7))),
    )  # fmt: skip
