"""A calibration as one NetCDF4 file, written and read by the dimensions that its parts name."""

import json
from dataclasses import fields
from typing import Any, Final, get_type_hints

import netCDF4
import numpy as np

from wearfit.calibration.whole import FORMAT_VERSION, Calibration, Identity
from wearfit.errors import Refusal

Array = np.ndarray

DRAW_DIGITS: Final = 4  # significant digits kept of a draw: far inside Monte Carlo error, and half the size
_GROUPS: Final = {name: part for name, part in get_type_hints(Calibration).items() if part is not Identity}


def to_bytes(calibration: Calibration) -> bytes:
    """The calibration as a NetCDF4 file, whose header holds the second in which it was made."""
    file = netCDF4.Dataset("calibration.nc", "w", format="NETCDF4", memory=1 << 20)
    file.setncattr_string("identity", json.dumps({f.name: getattr(calibration.identity, f.name) for f in fields(Identity)}, sort_keys=True))
    for name in _GROUPS:
        part = getattr(calibration, name)
        group = file.createGroup(name)
        for f in fields(part):
            _write(file, group, f.name, f.metadata["dims"], f.metadata["kind"], np.asarray(getattr(part, f.name)))
    return bytes(file.close())


def _write(file: Any, group: Any, name: str, dims: tuple[str, ...], kind: str, values: Array) -> None:
    if values.ndim != len(dims):
        raise ValueError(f"{name} has {values.ndim} dimensions, not {len(dims)}")
    # A variable named as a dimension would be taken for its coordinates: dimensions get names that no field has.
    axes = tuple(f"{dim}_axis" for dim in dims)
    for axis, length in zip(axes, values.shape, strict=True):
        # A length of zero would make the dimension unlimited; an empty one is written as its length alone.
        if axis not in file.dimensions:
            file.createDimension(axis, max(length, 1))
            file.setncattr(f"length_{axis}", np.int32(length))
        elif int(file.getncattr(f"length_{axis}")) != length:
            raise ValueError(f"{name}: {axis} has length {length}, elsewhere {file.getncattr(f'length_{axis}')}")
    if kind == "str":
        variable = group.createVariable(name, str, axes)
        if values.size:
            variable[:] = values.astype(object)
        return
    variable = group.createVariable(
        name,
        kind,
        axes,
        compression="zlib",
        complevel=4,
        shuffle=True,
        significant_digits=DRAW_DIGITS if kind == "f4" else None,
        quantize_mode="GranularBitRound",
    )
    if values.size:
        variable[:] = values.astype(kind)


def from_bytes(blob: bytes) -> Calibration:
    """Read a calibration.

    Raises
    ------
    Refusal
        Where the bytes are no calibration, or one of another format version.
    """
    try:
        with netCDF4.Dataset("calibration.nc", "r", memory=blob) as file:
            file.set_auto_mask(False)
            return _read_all(file)
    except (OSError, AttributeError, ValueError, LookupError, TypeError, RuntimeError) as reason:
        raise Refusal(
            "The saved calibration cannot be read.", "Recalibrate, or go back to another one with `wearfit calibrations --use`."
        ) from reason


def _read_all(file: Any) -> Calibration:
    identity = json.loads(file.getncattr("identity"))
    if identity["format_version"] != FORMAT_VERSION:
        raise Refusal(
            f"The calibration has format {identity['format_version']}, this wearfit reads format {FORMAT_VERSION}.",
            "Recalibrate with this version.",
        )
    identity["log_band"] = tuple(identity["log_band"])
    parts = {
        name: cls(**{f.name: _read(file, file[name], f.name, f.metadata["dims"], f.metadata["absent"]) for f in fields(cls)})
        for name, cls in _GROUPS.items()
    }
    return Calibration(identity=Identity(**identity), **parts)


def _read(file: Any, group: Any, name: str, dims: tuple[str, ...], absent: float | None) -> Array:
    window = tuple(slice(0, int(file.getncattr(f"length_{dim}_axis"))) for dim in dims)
    if absent is not None and name not in group.variables:
        return np.full([span.stop for span in window], absent)
    values = np.asarray(group[name][:])[window]
    # Answers ask for a live tool's draws together: so they lie side by side.
    return np.asfortranarray(values) if dims == ("sample", "live") else values
