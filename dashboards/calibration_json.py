"""Calibrations as JSON: what counts of each channel now. Values in °C or % RH, differences in K or % RH."""

from pydantic import BaseModel, ConfigDict

from config.words import Quantity
from daemon.calibration_text import standing_as_dict
from daemon.calibration_wishes import AllChannels


class ChannelCalibrationJson(BaseModel):
    """One channel. `standard_uncertainty`: of a usual reading, k = 1. `corrected = gain * reading + shift`."""

    model_config = ConfigDict(frozen=True)

    channel: str
    quantity: Quantity
    accuracy: float
    method: str | None
    calibrated_ms: int | None
    age_days: float | None
    due_at_ms: int | None
    overdue: bool
    gain: float
    shift: float
    standard_uncertainty: float


class CalibrationsJson(BaseModel):
    """Every channel that can be calibrated."""

    model_config = ConfigDict(frozen=True)

    now_ms: int
    channels: list[ChannelCalibrationJson]


def calibrations_json(found: AllChannels) -> CalibrationsJson:
    """Give what counts now its JSON form, as the command gives it."""
    rows = [
        ChannelCalibrationJson.model_validate(
            standing_as_dict(each.channel, each.stated, found.calibrations, found.now_ms)
        )
        for each in found.channels
    ]
    return CalibrationsJson(now_ms=found.now_ms, channels=rows)
