"""The parts of a calibration: names, draws, and the live tools as they stood. Every array names its dimensions where it is declared."""

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from wearfit.law import WEIBULL

Array = np.ndarray

STORAGE_QUANTILES: Final = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)  # at which the share of wear that came in store is kept
MOST_DRAWS: Final = 2000


def of(*dims: str, kind: str = "f4", absent: float | None = None) -> Any:
    """A field stored as an array with these dimensions; `kind` is a NumPy type code, or "str".

    `absent` is what a file that was written before there was the field stands for.
    """
    return field(metadata={"dims": dims, "kind": kind, "absent": absent})


@dataclass(frozen=True)
class Levels:
    """Names of what the draws speak of."""

    coefficient: Array = of("coefficient", kind="str")
    share: Array = of("share", kind="str")
    group: Array = of("group", kind="str")
    tool: Array = of("tool", kind="str")
    plant: Array = of("plant", kind="str")
    resin: Array = of("resin", kind="str")
    design: Array = of("design", kind="str")
    maker: Array = of("maker", kind="str")
    service_class: Array = of("class", kind="str")
    feature: Array = of("feature", kind="str")
    observation: Array = of("observation", kind="str")  # tool and life, or a tool of unknown class


@dataclass(frozen=True)
class Draws:
    """Draws from the posterior. A level that no record rests on is drawn from its population."""

    coefficient: Array = of("sample", "coefficient")
    share: Array = of("sample", "share")
    scale: Array = of("sample", "group")
    plant: Array = of("sample", "plant")  # log wear per shot beyond the climate
    plant_climate: Array = of("sample", "plant")  # log wear per shot that the yearly mean conditions bring
    resin: Array = of("sample", "resin")  # log wear per shot beyond the covariates
    design: Array = of("sample", "design")  # log life
    maker: Array = of("sample", "maker")  # log life
    tool: Array = of("sample", "tool")  # log life
    sudden_plant: Array = of("sample", "plant")  # log rate
    feature_level: Array = of("sample", "feature")  # log share of the way to the limit at the end of a life
    feature_growth: Array = of("sample", "feature")
    feature_noise: Array = of("sample", "feature")
    reading_share: Array = of("sample", "reading")  # log of the wear at a reading over the wear now
    read_told: Array = of("sample", "read", "node", kind="u1")  # log-likelihood of the readings, as `remaining.packed` writes it
    noted_share: Array = of("sample", "noted")  # log of the wear when a defect was noted over the wear now; NaN where unknown
    wear_spent: Array = of("sample", "live")  # [reference shots]; NaN where the age cannot be reckoned
    recorded_share: Array = of("sample", "live", kind="u1")  # 255ths of it that `TrailTable` spreads over time; the rest lay before
    characteristic_life: Array = of("sample", "live")  # [reference shots]
    opening_shots: Array = of("sample", "live")  # behind the life under way when its records begin, where that is reckoned; else 0
    log_likelihood: Array = of("sample", "observation")
    law: Array = of("sample", kind="i1", absent=WEIBULL)  # place in `law.LAWS`; draws of one law lie together

    @property
    def precision(self) -> np.dtype[Any]:
        """Of the numbers, as they are kept."""
        return self.coefficient.dtype

    def fetch(self, *names: str) -> None:
        """Read some arrays from where they are kept, all at one go: here they are at hand."""

    def unknown(self, name: str) -> Array:
        """Live tools some of whose draws of an array by sample and live tool are unknown, shape (live,)."""
        return np.asarray(np.isnan(getattr(self, name)).any(axis=0))

    def of_tools(self, name: str, live: Array) -> Array:
        """Draws of some live tools of an array by sample and live tool, each tool's side by side in memory, shape (sample, tool)."""
        return np.ascontiguousarray(getattr(self, name).T[live]).T


@dataclass(frozen=True)
class PriorDraws:
    """Draws from the prior, to be shown beside the posterior."""

    coefficient: Array = of("prior_sample", "coefficient")
    share: Array = of("prior_sample", "share")
    scale: Array = of("prior_sample", "group")
    log_life: Array = of("prior_sample", "class")  # log life of a new tool at reference conditions [log shots]


@dataclass(frozen=True)
class PlantTable:
    """What is known of each plant."""

    seen: Array = of("plant", kind="i1")  # 1 where the draws rest on its runs
    lives: Array = of("plant", kind="f8")
    wear_outs: Array = of("plant", kind="f8")
    shots: Array = of("plant", kind="f8")
    rh_mean_pct: Array = of("plant", kind="f8")
    sweating_share: Array = of("plant", kind="f8")
    wet_hours_per_year: Array = of("plant", kind="f8")
    corrosivity_um_per_year: Array = of("plant", kind="f8")
    corrosivity_category: Array = of("plant", kind="str")  # "" where unknown
    level: Array = of("plant", "plant_covariate", kind="f8")  # yearly conditions
    spread: Array = of("plant", "plant_covariate", kind="f8")  # standard deviations with which they are known
    unknown_level: Array = of("plant_covariate", kind="f8")  # conditions of a plant never heard of, and how unsure they are
    unknown_spread: Array = of("plant_covariate", kind="f8")
    season: Array = of("plant", "calendar_month", "month_covariate", kind="f8")  # departures from the yearly mean


@dataclass(frozen=True)
class ResinTable:
    """What is known of each resin."""

    seen: Array = of("resin", kind="i1")
    filler: Array = of("resin", kind="f8")
    corrosive: Array = of("resin", kind="f8")
    described: Array = of("resin", kind="i1")
    unknown: Array = of("moment", kind="f8")  # mean and standard deviation of log wear, of a resin that nothing describes


@dataclass(frozen=True)
class DesignTable:
    """What is known of each design."""

    seen: Array = of("design", kind="i1")


@dataclass(frozen=True)
class LiveTable:
    """The live tools as they stood at the as-of day; meanings as in `exposures.live.LiveTools`."""

    tool: Array = of("live", kind="i4")
    status: Array = of("live", kind="str")
    service_class: Array = of("live", kind="i4")  # index of the class, -1 unknown
    log_band: Array = of("live", kind="f8")  # mu before any offset; of the class in most draws where the class is unknown
    design: Array = of("live", kind="i4")
    plant: Array = of("live", kind="i4")
    steel_group: Array = of("live", kind="i4")
    modifications: Array = of("live", kind="i4")
    shots_this_life: Array = of("live", kind="f8")  # without what is reckoned: `Draws.opening_shots`
    moved_by_steel: Array = of("live", kind="f8")  # log of the median life left, over what it is in the steel likeliest beforehand
    moved_by_past: Array = of("live", kind="f8")  # the same for the age at entry likeliest beforehand; 0 where nothing is open
    setups_per_shot: Array = of("live", kind="f8")
    setup_share: Array = of("live", kind="f8")  # share of a full set-up's cost that counts for the tool
    recent_shots: Array = of("live", "recent_month", kind="f8")
    resin_share: Array = of("live", "resin", kind="f4")
    shots_per_month: Array = of("live", kind="f8")
    plan_shots: Array = of("live", "plan_month", kind="f8")
    plan_plant: Array = of("live", "plan_month", kind="i4")
    plan_resin: Array = of("live", "plan_month", kind="i4")
    lead_time_weeks: Array = of("live", kind="f8")
    replacement_due: Array = of("live", kind="f8")
    replacement_cost: Array = of("live", kind="f8")
    refurbish_cost: Array = of("live", kind="f8")
    moved_by_readings: Array = of("live", kind="f8")  # log of the median remaining wear with its readings over that without
    in_store: Array = of("live", kind="i1")
    store_preserved: Array = of("live", kind="f8")  # 0..1
    store_log_corrosivity: Array = of("live", kind="f8")  # of the store's air; 0 where the tool is in none
    storage_share: Array = of("live", "storage_quantile", kind="f8")  # of the wear spent; NaN where unknown
    moved_by_storage: Array = of("live", kind="f8")  # log of the median wear left, with storage over without; NaN where unknown
    stood_years: Array = of("live", "standing", kind="f8")  # since its last shot: idle, and in store
    stood_preserved: Array = of("live", "standing", kind="f8")  # 0..1
    stood_log_corrosivity: Array = of("live", "standing", kind="f8")
    idle_from: Array = of("live", kind="f8")  # [day] NaN in store and before its first use
    read_from: Array = of("live", kind="f8")  # [day] the first whose readings are of the episode under way
    renewals: Array = of("live", kind="i4")  # behind that episode, partial ones too


@dataclass(frozen=True)
class ReadTable:
    """Live tools with readings in the life under way."""

    live: Array = of("read", kind="i4")  # which of the live tools
    q_low: Array = of("read", kind="f8")  # between these lie the nodes of `Draws.read_told`
    q_high: Array = of("read", kind="f8")


@dataclass(frozen=True)
class ReadingTable:
    """Their readings, in order of (read, feature, time)."""

    read: Array = of("reading", kind="i4")
    day: Array = of("reading", kind="f8")  # [day] since 1970-01-01
    feature: Array = of("reading", kind="i4")
    log_way: Array = of("reading", kind="f8")
    below: Array = of("reading", kind="i1")
    rounding: Array = of("reading", kind="f8")


@dataclass(frozen=True)
class NotedTable:
    """Defects noted in the lives under way, in order of (live, day)."""

    live: Array = of("noted", kind="i4")  # which of the live tools
    day: Array = of("noted", kind="f8")  # days since 1970-01-01
    kind: Array = of("noted", kind="str")
    p_wear: Array = of("noted", kind="f8")  # by the kind alone; NaN of a hazard without such a chance
    question: Array = of("noted", kind="str")  # that would settle it
    hazard: Array = of("noted", kind="i1")  # 1: to be looked at before the tool runs
    note: Array = of("noted", kind="str")


@dataclass(frozen=True)
class FeaturePopulation:
    """Normal prior of level, log growth and log noise, in this order, of a feature's readings: about a middle that all features share."""

    loc: Array = of("growth_parameter", kind="f8")
    common_sd: Array = of("growth_parameter", kind="f8")  # of the middle
    own_sd: Array = of("growth_parameter", kind="f8")  # of a feature about it


@dataclass(frozen=True)
class TrailTable:
    """How the recorded wear of the live tools' episodes came over time: straight between knots, in order of (live, time)."""

    live: Array = of("knot", kind="i4")
    time: Array = of("knot", kind="f8")  # [day] an instant; a day ends where the next begins
    share: Array = of("knot", kind="f8")  # of the recorded wear that had come by then, 0..1
