"""The prior of all coefficients together: where they are expected, and how they vary with each other."""

import math
from typing import Final

import numpy as np

from wearfit.errors import Refusal
from wearfit.exposures.classes import CLASSES, STEELS
from wearfit.exposures.covariates import COVARIATES
from wearfit.model.layout import COEFFICIENTS
from wearfit.model.priors_file import Entries
from wearfit.records.coatings import COATINGS

Array = np.ndarray

NO_STORAGE: Final = -50.0  # log of a share of a life that counts nothing
READING_LOGS: Final = (("life_sd", "reading.life"), ("life_growth_sd", "reading.life_growth"))


def coefficients(reader: Entries) -> tuple[Array, Array]:
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
