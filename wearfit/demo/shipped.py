"""Where the demo's records and calibration lie: in the installed package, or in the checkout it is run from."""

from importlib.resources import files
from pathlib import Path

from wearfit.errors import Refusal

_CHECKOUT = Path(__file__).resolve().parents[2]


def scenario_folder() -> Path:
    """The folder that holds the scenario's records.

    Raises
    ------
    Refusal
        Where neither the package nor a checkout has it.
    """
    return _shipped("data", _CHECKOUT / "data" / "demo")


def shipped_calibration_bytes() -> bytes:
    """The scenario's saved calibration, as `wearfit.calibration.from_bytes` reads it.

    Raises
    ------
    Refusal
        Where neither the package nor a checkout has it.
    """
    return _shipped("models/demo.nc", _CHECKOUT / "models" / "demo.nc").read_bytes()


def _shipped(packaged: str, checked_out: Path) -> Path:
    inside = files("wearfit.demo").joinpath(packaged)
    for place in (inside, checked_out):
        # A package inside a ZIP archive has no paths; wearfit is installed unpacked.
        if isinstance(place, Path) and place.exists():
            return place
    raise Refusal(f"The demo's {checked_out.name} is not part of this installation.", "Install wearfit again.")
