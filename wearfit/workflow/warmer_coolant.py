"""What a warmer coolant would give at each plant: the sweating from the climate records, what it costs from the calibration."""

from typing import TYPE_CHECKING, Final

from wearfit.calibration import Calibration
from wearfit.forecasts.changed_air import Gain, warmer

if TYPE_CHECKING:
    from wearfit.workflow.recorded import Recorded

WARMEST_C: Final = 20
"""[degC] More than this is no coolant of a hall any more, judgement."""


def warmer_coolant(recorded: "Recorded", calibration: Calibration, warmer_c: float) -> tuple[Gain, ...]:
    """Life gained at each plant with runs, were its coolant so much warmer; plants whose climate is not recorded are left out.

    Parameters
    ----------
    recorded : Recorded
        Whose climate is looked at.
    warmer_c : float
        [degC]
    """
    from wearfit.exposures.plant_climate import warmer_season

    tables, plant_ids = recorded.records.tables, [str(plant) for plant in calibration.levels.plant]
    before, after = (warmer_season(tables["plants"], tables["climate"], plant_ids, degrees) for degrees in (0.0, warmer_c))
    return warmer(calibration, before, after)
