"""Priors read from TOML: the package's own, or an owner's edited copy."""

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from wearfit.errors import Refusal
from wearfit.exposures.classes import CLASSES, POSSIBLE_STEELS, STEELS
from wearfit.model.coefficient_priors import coefficients
from wearfit.model.layout import GROUPS, SHARES
from wearfit.model.priors_file import FEATURE_ENTRIES, Entries, entries_of, own_priors_text
from wearfit.records.notes import WITH_A_CHANCE

Array = np.ndarray

P90: Final = 1.2815515655446004  # standard normal quantile at .9


@dataclass(frozen=True)
class Band:
    """A shot-life band and the quantile of a new tool's life that it fixes."""

    life: float  # [shots]
    probability: float


@dataclass(frozen=True, eq=False)
class Priors:
    """Priors in the shape that the model takes; each text of a file has its own, the key of a cache.

    `loc` and `root` have shapes (coefficient,) and (coefficient, coefficient): coefficients = loc + root @ z, z ~ N(0, 1).
    `share_a`, `share_b`, `share_on` have shape (share,); `scale`, `group_on` have shape (group,).
    """

    text: str
    bands: tuple[Band, ...]  # of the service classes, in order of CLASSES
    own_floor_probability: float
    own_cap_share: float
    class_share: Array  # (BANDED,)
    class_share_weight: float
    steel_share: Array  # (BANDED, steel) where nobody wrote the steel down; zero where it is not weighed
    past_use_log_sd: Array  # (3,) of use before the records: by the tool's own, its sisters' and the fleet's pace
    loc: Array
    root: Array
    share_a: Array
    share_b: Array
    share_on: Array
    scale: Array
    group_on: Array
    undescribed_loc: float
    undescribed_sd: float
    feature_loc: Array  # (3,) level, log growth and log noise of the readings of all features
    feature_sd: Array  # (2, 3) how far all features may lie from that, and each from all
    noted_p_wear: Array  # (noted defect,) in order of WITH_A_CHANCE
    noted_question: tuple[str, ...]  # that would settle whether it is wear, of the same
    noted_power: float
    lead_time_weeks: float
    lead_time_log_sd: float


def read_priors(path: Path | None = None) -> Priors:
    """Priors of a file, the package's own where `path` is None.

    Raises
    ------
    Refusal
        Where the file cannot be read, misses an entry, has one that is not known, or a value out of range.
    """
    if path is None:
        return parse_priors(own_priors_text())
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors put a byte order mark first
    except (OSError, UnicodeDecodeError) as reason:
        raise Refusal(
            f"The priors file {path} cannot be read ({reason}).", "Give the path of an edited copy of the priors file.", 2
        ) from reason
    return parse_priors(text)


@lru_cache(maxsize=4)  # asked for many times over, and what is worked out of them is kept by them
def parse_priors(text: str) -> Priors:
    """Priors of a TOML text. Raises Refusal as `read_priors` does."""
    reader = entries_of(text)
    loc, root = coefficients(reader)
    share_entries = tuple(SHARES)
    class_share = np.array([reader.number("class_share.share", c, 0.0) for c in CLASSES[:-1]])
    if not class_share.any():
        raise Refusal("In the priors file, every [class_share] share is 0.", "Give at least one class a share above 0.", 2)
    share_a = np.array([reader.positive(s, "a") for s in share_entries])
    share_b = np.array([reader.positive(s, "b") for s in share_entries])
    median = reader.positive("lead_time", "median_weeks")
    return Priors(
        text=text,
        bands=tuple(_band(reader, c) for c in CLASSES[:-1]),
        own_floor_probability=reader.number("own_band", "floor_probability", 0.001, 0.999),
        own_cap_share=reader.positive("own_band", "cap_share"),
        class_share=class_share,
        class_share_weight=reader.positive("class_share", "weight"),
        steel_share=_steel_share(reader),
        past_use_log_sd=np.array([reader.number("past_use", f"{whose}_log_sd", 0.0) for whose in ("own", "sisters", "fleet")]),
        loc=loc,
        root=root,
        share_a=share_a,
        share_b=share_b,
        share_on=np.array([0.0 if reader.is_off(s) else 1.0 for s in share_entries]),
        scale=np.array([reader.positive(f"group.{g}", "scale") for g in GROUPS]),
        group_on=np.array([0.0 if reader.is_off(f"group.{g}") else 1.0 for g in GROUPS]),
        undescribed_loc=0.0 if reader.is_off("undescribed_resin") else reader.number("undescribed_resin", "loc"),
        undescribed_sd=0.0 if reader.is_off("undescribed_resin") else reader.number("undescribed_resin", "sd", 0.0),
        feature_loc=np.array(
            [reader.number("reading.level", "loc"), *(math.log(reader.positive(f"reading.{r}", "median")) for r in ("growth", "noise"))]
        ),
        feature_sd=np.array(
            [
                [_spread_of_feature(reader, f"reading.{r}", s) for r, s in zip(FEATURE_ENTRIES, own, strict=True)]
                for own in (("sd", "log_sd", "log_sd"), ("feature_sd",) * 3)
            ]
        ),
        noted_p_wear=np.array([reader.number(f"noted.{kind}", "p_wear", 0.001, 0.999) for kind in WITH_A_CHANCE]),
        noted_question=tuple(reader.text(f"noted.{kind}", "question") for kind in WITH_A_CHANCE),
        noted_power=reader.number("noted_rate", "power", 0.0, 20.0),
        lead_time_weeks=median,
        lead_time_log_sd=math.log(reader.number("lead_time", "p90_weeks", median) / median) / P90,
    )


def _spread_of_feature(reader: Entries, entry: str, key: str) -> float:
    return 0.0 if reader.is_off(entry) else reader.number(entry, key, 0.0)


def _band(reader: Entries, name: str) -> Band:
    path = f"band.{name}"
    entry = reader.entry(path)
    if "floor" in entry and "cap" in entry:
        raise Refusal(f"In the priors file, [{path}] has a floor and a cap.", "Keep the one that the class is known by.", 2)
    if "floor" in entry:
        return Band(reader.positive(path, "floor"), reader.number(path, "probability", 0.001, 0.999))
    return Band(reader.positive(path, "cap") * reader.positive(path, "share"), 0.5)


def _steel_share(reader: Entries) -> Array:
    """Shares of the steels that a tool of each class may be cut in, shape (BANDED, steel)."""
    share = np.zeros((len(POSSIBLE_STEELS), len(STEELS)))
    for i, steels in enumerate(POSSIBLE_STEELS):
        path = f"steel_share.share.{CLASSES[i]}"
        for steel in steels:
            share[i, STEELS.index(steel)] = reader.number(path, steel, 0.0)
        if not share[i].any():
            raise Refusal(f"In the priors file, every share of [{path}] is 0.", "Give at least one steel a share above 0.", 2)
    return np.asarray(share / share.sum(axis=1, keepdims=True))
