"""Priors read from TOML: the package's own, or an owner's edited copy."""

import math
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np

from wearfit.errors import Refusal
from wearfit.exposures.classes import CLASSES, POSSIBLE_STEELS, STEELS
from wearfit.exposures.covariates import COVARIATES
from wearfit.model.layout import COEFFICIENTS, GROUPS, SHARES
from wearfit.records.coatings import COATINGS
from wearfit.records.notes import WITH_A_CHANCE

Array = np.ndarray

NO_STORAGE: Final = -50.0  # log of a share of a life that counts nothing
P90: Final = 1.2815515655446004  # standard normal quantile at .9
FEATURE_ENTRIES: Final = ("level", "growth", "noise")
SWITCHES: Final = (
    "class_offset",
    "shape",
    "setup",
    *SHARES,
    *(f"steel.{s}" for s in STEELS),
    *(f"coating.{c}" for c in COATINGS),
    *(f"slope.{c.name}" for c in COVARIATES),
    *(f"group.{g}" for g in GROUPS),
    "undescribed_resin",
    "sudden.per_life",
    "sudden.per_handling",
    *(f"reading.{r}" for r in (*FEATURE_ENTRIES, "life", "life_growth")),
    "storage.rate",
    "storage.preserved",
    "storage.corrosivity",
)  # the entries that `off = true` switches off
READING_LOGS: Final = (("life_sd", "reading.life"), ("life_growth_sd", "reading.life_growth"))
BAND_KEYS: Final = ("floor", "probability", "cap", "share")  # a band may be edited from a cap into a floor


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


def own_priors_text() -> str:
    """The text of the priors file that ships with the package."""
    return files("wearfit.model").joinpath("priors.toml").read_text(encoding="utf-8")


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


class _Reader:
    """Looks up numbers in parsed TOML, naming the entry where something is wrong."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        self._data = data

    def entry(self, path: str) -> Mapping[str, Any]:
        node: Any = self._data
        parts = path.split(".")
        for depth, part in enumerate(parts, start=1):
            node = node.get(part)
            if not isinstance(node, dict):
                raise Refusal(
                    f"The priors file has no entry [{'.'.join(parts[:depth])}].",
                    "Start from the file that ships with wearfit and change its values.",
                    2,
                )
        return dict(node)

    def number(self, path: str, key: str, low: float = -math.inf, high: float = math.inf, open_low: bool = False) -> float:
        value = self.entry(path).get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= sys.float_info.max:
            raise Refusal(f"In the priors file, [{path}] needs a number `{key}`.", "Enter a number.", 2)
        if not low <= value <= high or (open_low and value == low):
            wanted = f"{'above' if open_low else 'of at least'} {low:g}" if math.isinf(high) else f"between {low:g} and {high:g}"
            raise Refusal(f"In the priors file, [{path}] {key} = {value:g} is out of range.", f"Enter a value {wanted}.", 2)
        return float(value)

    def text(self, path: str, key: str) -> str:
        value = self.entry(path).get(key)
        if not isinstance(value, str) or not value.strip():
            raise Refusal(f"In the priors file, [{path}] needs a text `{key}`.", "Write it between quotation marks.", 2)
        return value.strip()

    def positive(self, path: str, key: str) -> float:
        return self.number(path, key, 0.0, open_low=True)

    def is_off(self, path: str) -> bool:
        value = self.entry(path).get("off", False)
        if not isinstance(value, bool):
            raise Refusal(f"In the priors file, [{path}] off must be true or false.", "Write off = true or leave the line out.", 2)
        return value


@lru_cache(maxsize=4)  # asked for many times over, and what is worked out of them is kept by them
def parse_priors(text: str) -> Priors:
    """Priors of a TOML text. Raises Refusal as `read_priors` does."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as reason:
        raise Refusal(f"The priors file is not valid TOML ({reason}).", "Mend the line named.", 2) from reason
    reader = _Reader(data)
    _refuse_unknown(data, _own_tables(), "")
    loc, root = _coefficients(reader)
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


@cache
def _own_tables() -> Mapping[str, Any]:
    return tomllib.loads(own_priors_text())


def _refuse_unknown(given: Mapping[str, Any], own: Mapping[str, Any], path: str) -> None:
    """A misspelt entry would be silently without effect; refuse it instead."""
    for key, value in given.items():
        here = f"{path}.{key}" if path else key
        if key == "off" and path in SWITCHES:
            continue
        if key == "off" and path:
            raise Refusal(f"In the priors file, [{path}] cannot be switched off.", "Take the line out and change the values instead.", 2)
        if key not in own and not (path.startswith("band.") and key in BAND_KEYS):
            raise Refusal(
                f"The priors file has an entry that nothing reads: {here}.",
                "Check its spelling against the file that ships with wearfit.",
                2,
            )
        if isinstance(value, dict) and isinstance(own.get(key), dict):
            _refuse_unknown(value, own[key], here)


def _spread_of_feature(reader: _Reader, entry: str, key: str) -> float:
    return 0.0 if reader.is_off(entry) else reader.number(entry, key, 0.0)


def _band(reader: _Reader, name: str) -> Band:
    path = f"band.{name}"
    entry = reader.entry(path)
    if "floor" in entry and "cap" in entry:
        raise Refusal(f"In the priors file, [{path}] has a floor and a cap.", "Keep the one that the class is known by.", 2)
    if "floor" in entry:
        return Band(reader.positive(path, "floor"), reader.number(path, "probability", 0.001, 0.999))
    return Band(reader.positive(path, "cap") * reader.positive(path, "share"), 0.5)


def _steel_share(reader: _Reader) -> Array:
    """Shares of the steels that a tool of each class may be cut in, shape (BANDED, steel)."""
    share = np.zeros((len(POSSIBLE_STEELS), len(STEELS)))
    for i, steels in enumerate(POSSIBLE_STEELS):
        path = f"steel_share.share.{CLASSES[i]}"
        for steel in steels:
            share[i, STEELS.index(steel)] = reader.number(path, steel, 0.0)
        if not share[i].any():
            raise Refusal(f"In the priors file, every share of [{path}] is 0.", "Give at least one steel a share above 0.", 2)
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _coefficients(reader: _Reader) -> tuple[Array, Array]:
    """Location, and a root of the covariance, of all coefficients in order of COEFFICIENTS."""
    n = len(COEFFICIENTS)
    at = {name: i for i, name in enumerate(COEFFICIENTS)}
    loc, sd, correlation = np.zeros(n), np.zeros(n), np.eye(n)

    def put(name: str, entry: str, centre: float, spread: float) -> None:
        loc[at[name]], sd[at[name]] = centre, 0.0 if reader.is_off(entry) else spread

    put("log_shape", "shape", math.log(reader.positive("shape", "median")), reader.positive("shape", "log_sd"))
    put("log_setup", "setup", math.log(reader.positive("setup", "median")), reader.positive("setup", "log_sd"))
    for rate in ("per_life", "per_handling"):
        entry = f"sudden.{rate}"
        put(f"log_sudden_{rate}", entry, math.log(reader.positive(entry, "median")), reader.positive(entry, "log_sd"))
    rate = "storage.rate"
    centre = math.log(reader.positive(rate, "median"))
    put("log_storage", rate, NO_STORAGE if reader.is_off(rate) else centre, reader.positive(rate, "log_sd"))
    for entry in ("storage.preserved", "storage.corrosivity"):
        put(entry, entry, 0.0 if reader.is_off(entry) else reader.number(entry, "loc"), reader.number(entry, "sd", 0.0))
    for name, entry in READING_LOGS:
        put(f"reading.log_{name}", entry, math.log(reader.positive(entry, "median")), reader.positive(entry, "log_sd"))
    for entry in (*(f"steel.{s}" for s in STEELS), *(f"coating.{c}" for c in COATINGS)):
        put(entry, entry, 0.0 if reader.is_off(entry) else reader.number(entry, "loc"), reader.number(entry, "sd", 0.0))
    for covariate in COVARIATES:
        entry = f"slope.{covariate.name}"
        off = reader.is_off(entry)
        put(f"slope.{covariate.name}", entry, 0.0 if off else reader.number(entry, "loc"), reader.number(entry, "sd", 0.0))
        if "correlation" in reader.entry(entry):
            other = str(reader.entry(f"{entry}.correlation").get("with"))
            if f"slope.{other}" not in at or other == covariate.name:
                raise Refusal(f"In the priors file, [{entry}] correlation names {other}, not another covariate.", "Name another slope.", 2)
            i, j = at[f"slope.{covariate.name}"], at[f"slope.{other}"]
            correlation[i, j] = correlation[j, i] = reader.number(f"{entry}.correlation", "value", -0.99, 0.99)
    covariance = correlation * np.outer(sd, sd)
    overall = 0.0 if reader.is_off("class_offset") else reader.number("class_offset", "overall_sd", 0.0)
    members = [at[f"class_offset.{c}"] for c in CLASSES]
    own = [0.0 if reader.is_off("class_offset") else reader.number("class_offset.class_sd", c, 0.0) for c in CLASSES]
    covariance[np.ix_(members, members)] = overall**2 + np.diag(np.square(own))
    return loc, _root(covariance)


def _root(covariance: Array) -> Array:
    """Lower triangular root of a covariance, which may be singular: coefficients switched off, or moving as one."""
    root = np.zeros_like(covariance)
    for j in range(len(covariance)):
        left = covariance[j:, j] - root[j:, :j] @ root[j, :j]
        if left[0] > 1e-12 * covariance[j, j]:
            root[j:, j] = left / np.sqrt(left[0])
    return root
