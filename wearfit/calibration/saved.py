"""A calibration as one NetCDF4 file, written and read by the dimensions that its parts name."""

import json
import threading
from collections.abc import Callable
from dataclasses import fields
from typing import Any, Final, get_type_hints

import netCDF4
import numpy as np

from wearfit.calibration.packed_draws import UNKNOWN, by_tool, can_be_coded, coded, decoded
from wearfit.calibration.tables import Draws
from wearfit.calibration.whole import FORMAT_VERSION, READ_FORMATS, Calibration, Identity
from wearfit.errors import Refusal

Array = np.ndarray

# Binary digits kept of a draw: far inside Monte Carlo error, and half the size. Rounding to decimal digits would, near a power of ten, not
# leave alone what was rounded before, and a calibration that is read and written again must be the same.
DRAW_BITS: Final = 12
_LIBRARY: Final = threading.RLock()  # what reads and writes these files is not safe to be used by several threads
BY_TOOL: Final = ("sample", "live")
_GROUPS: Final = {f.name: get_type_hints(Calibration)[f.name] for f in fields(Calibration) if f.name != "identity"}


def to_bytes(calibration: Calibration) -> bytes:
    """The calibration as a NetCDF4 file, whose header holds the second in which it was made."""
    with _LIBRARY:
        return _written(calibration)


def _written(calibration: Calibration) -> bytes:
    file = netCDF4.Dataset("calibration.nc", "w", format="NETCDF4", memory=1 << 20)
    file.setncattr_string("identity", json.dumps({f.name: getattr(calibration.identity, f.name) for f in fields(Identity)}, sort_keys=True))
    for name in _GROUPS:
        part = getattr(calibration, name)
        group = file.createGroup(name)
        for f in fields(part):
            _write(file, group, f.name, f.metadata["dims"], f.metadata["kind"], np.asarray(getattr(part, f.name)))
    return bytes(file.close())


def _write(file: Any, group: Any, name: str, dims: tuple[str, ...], kind: str, values: Array, pressed: bool = True) -> None:
    if values.ndim != len(dims):
        raise ValueError(f"{name} has {values.ndim} dimensions, not {len(dims)}")
    if dims == BY_TOOL and kind == "f4" and can_be_coded(values):
        codes, grids = coded(values)
        # Unless most are zero there is so little to press in codes that unpacking costs far more than it spares.
        _write(file, group, f"{name}_codes", dims[::-1], "u2", codes, pressed=bool(2 * np.count_nonzero(codes) <= codes.size))
        _write(file, group, f"{name}_grids", ("live", "grid"), "f8", grids)
        return
    axes = _axes(file, name, dims, values.shape)
    if kind == "str":
        variable = group.createVariable(name, str, axes)
        if values.size:
            variable[:] = values.astype(object)
        return
    variable = group.createVariable(
        name,
        kind,
        axes,
        compression="zlib" if pressed else None,
        complevel=4,
        shuffle=pressed,
        fletcher32=not pressed,  # what is pressed has a checksum anyway
        significant_digits=DRAW_BITS if kind == "f4" else None,
        quantize_mode="BitRound",
    )
    if values.size:
        variable[:] = values.astype(kind)


def _axes(file: Any, name: str, dims: tuple[str, ...], shape: tuple[int, ...]) -> tuple[str, ...]:
    """Names of dimensions as the file has them, of which new ones are added."""
    # A variable named as a dimension would be taken for its coordinates: dimensions get names that no field has.
    axes = tuple(f"{dim}_axis" for dim in dims)
    for axis, length in zip(axes, shape, strict=True):
        # A length of zero would make the dimension unlimited; an empty one is written as its length alone.
        if axis not in file.dimensions:
            file.createDimension(axis, max(length, 1))
            file.setncattr(f"length_{axis}", np.int32(length))
        elif int(file.getncattr(f"length_{axis}")) != length:
            raise ValueError(f"{name}: {axis} has length {length}, elsewhere {file.getncattr(f'length_{axis}')}")
    return axes


def from_bytes(blob: bytes, draws_later: bool = False) -> Calibration:
    """Read a calibration.

    Parameters
    ----------
    draws_later : bool
        Read each array of draws when it is first asked for: an answer asks for a few, and of a large fleet they are nearly all of the
        file. For bytes that are known to be sound: a break in them is met then.

    Raises
    ------
    Refusal
        Where the bytes are no calibration, or one of another format version.
    """
    return _opened(blob, lambda file: _read_all(file, blob if draws_later else None))


def _opened[T](blob: bytes, read: Callable[[Any], T]) -> T:
    try:
        with _LIBRARY, netCDF4.Dataset("calibration.nc", "r", memory=blob) as file:
            file.set_auto_mask(False)
            return read(file)
    except (OSError, AttributeError, ValueError, LookupError, TypeError, RuntimeError) as reason:
        raise Refusal(
            "The saved calibration cannot be read.", "Recalibrate, or go back to another one with `wearfit calibrations --use`."
        ) from reason


class _DrawsLater(Draws):
    """Draws of a file, each array read when it is first asked for, those of live tools unpacked for the tools asked about."""

    _blob: bytes
    _codes: dict[str, tuple[Array, Array] | None]  # of arrays by live tool, None where the file has numbers

    def fetch(self, *names: str) -> None:
        wanted = [f for f in fields(Draws) if f.name in names and f.name not in self.__dict__]

        def read(file: Any) -> None:
            for f in wanted:
                dims, absent = f.metadata["dims"], f.metadata["absent"]
                if f.name not in self._codes:
                    self._codes[f.name] = _codes(file, file["draws"], f.name, dims)
                if self._codes[f.name] is None:
                    object.__setattr__(self, f.name, _read(file, file["draws"], f.name, dims, absent))

        with _LIBRARY:
            if any(f.name not in self._codes for f in wanted):
                _opened(self._blob, read)

    @property
    def precision(self) -> np.dtype[Any]:
        """Of the file, which need not be opened for it, but where other numbers have been put in their place."""
        return super().precision if "coefficient" in self.__dict__ else np.dtype(np.float32)

    def unknown(self, name: str) -> Array:
        packed = self._packed(name)
        return super().unknown(name) if packed is None else np.asarray((packed[0] == UNKNOWN).any(axis=1))

    def of_tools(self, name: str, live: Array) -> Array:
        packed = self._packed(name)
        return super().of_tools(name, live) if packed is None else decoded(*(part[live] for part in packed))

    def _packed(self, name: str) -> tuple[Array, Array] | None:
        """What an array is unpacked from; None where it is at hand."""
        self.fetch(name)
        return None if name in self.__dict__ else self._codes[name]

    def __getattr__(self, name: str) -> Array:
        if name not in {f.name for f in fields(Draws)}:
            raise AttributeError(name)
        packed = self._packed(name)
        if packed is not None:
            object.__setattr__(self, name, decoded(*packed))
        return np.asarray(self.__dict__[name])

    def __reduce__(self) -> tuple[type[Draws], tuple[Array, ...]]:
        return Draws, tuple(getattr(self, f.name) for f in fields(Draws))


def _read_all(file: Any, later: bytes | None) -> Calibration:
    identity = json.loads(file.getncattr("identity"))
    if identity["format_version"] not in READ_FORMATS:
        raise Refusal(
            f"The calibration has format {identity['format_version']}, this wearfit reads format {FORMAT_VERSION}.",
            "Recalibrate with this version.",
        )
    identity["format_version"] = FORMAT_VERSION  # as which it would be written again
    identity["log_band"] = tuple(identity["log_band"])
    parts = {
        name: cls(**{f.name: _read(file, file[name], f.name, f.metadata["dims"], f.metadata["absent"]) for f in fields(cls)})
        for name, cls in _GROUPS.items()
        if later is None or cls is not Draws
    }
    if later is not None:
        parts["draws"] = _DrawsLater.__new__(_DrawsLater)
        for name, value in (("_blob", later), ("_codes", {})):
            object.__setattr__(parts["draws"], name, value)
    return Calibration(identity=Identity(**identity), **parts)


def _read(file: Any, group: Any, name: str, dims: tuple[str, ...], absent: float | None) -> Array:
    window = tuple(slice(0, int(file.getncattr(f"length_{dim}_axis"))) for dim in dims)
    if absent is not None and name not in group.variables:
        return np.full([span.stop for span in window], absent)
    if codes := _codes(file, group, name, dims):
        return decoded(*codes)
    values = np.asarray(group[name][:])[window]
    return by_tool(values) if dims == BY_TOOL else values


def _codes(file: Any, group: Any, name: str, dims: tuple[str, ...]) -> tuple[Array, Array] | None:
    """Codes and grids of draws by live tool (`packed_draws`); None of other arrays, and where the file has numbers."""
    if name in group.variables or dims != BY_TOOL:
        return None
    samples, tools = (int(file.getncattr(f"length_{dim}_axis")) for dim in dims)
    codes, grids = (np.asarray(group[f"{name}_{part}"][:]) for part in ("codes", "grids"))
    return codes[:tools, :samples], grids[:tools]
