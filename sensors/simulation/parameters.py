"""The sizes of a simulated incubator. Chosen for a cabinet of about 150 litres; invented, not measured."""

from dataclasses import dataclass, field
from enum import StrEnum

AIR_HEAT_J_M3_K = 1.204 * 1006.0
"""Heat capacity of a cubic metre of room air: density times specific heat of dry air at 20 degree Celsius, 1 atm."""


class ThermostatKind(StrEnum):
    """How the heater is driven."""

    PROPORTIONAL = "proportional"
    """full power half a band below the set point, none half a band above"""
    ON_OFF = "on-off"
    """on half a band below the set point, off half a band above: hysteresis"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermostat:
    """The incubator's own control. It watches the cabinet air."""

    set_point_c: float = 30.0
    band_k: float = 0.5
    kind: ThermostatKind = ThermostatKind.PROPORTIONAL


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomParameters:
    """The room around the cabinet: a daily swing, and a slow random wander with a stated memory."""

    mean_c: float = 20.0
    swing_k: float = 1.5
    warmest_hour_utc: float = 15.0
    wander_k: float = 0.4
    wander_memory_s: float = 4 * 3600.0
    relative_humidity_pct: float = 45.0
    """at the mean temperature; the vapour in the room then stays as it is while the temperature swings"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneParameters:
    """A shelf. Warm air rises: a shelf is warmer than the mean air by `stratification` times (air - room)."""

    place: str
    stratification: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxParameters:
    """A lidded box with damp medium and eggs: one slow thermal mass, one small volume of air.

    A conductance for vapour is an area times a mass transfer coefficient (m2 x m/s = m3/s): a bare wet surface of
    0.03 m2 in still air has about 7e-5 by the Lewis relation, a medium that is dry on top much less.
    """

    place: str
    zone: str
    capacity_j_k: float = 4_000.0
    conductance_w_k: float = 0.6
    volume_m3: float = 0.006
    exchange_per_h: float = 0.3
    medium_m3_s: float = 5e-6
    water_activity: float = 0.97
    lid_m3_s: float = 7e-5
    temperature_factor: float = 0.9
    """of the lid, (lid - room)/(box - room), ISO 13788"""


@dataclass(frozen=True, slots=True, kw_only=True)
class IncubatorParameters:
    """A cabinet: fast air, slow contents (walls, shelves, jugs of water), a heater, a water tray, a door."""

    place: str
    air_capacity_j_k: float = 3_000.0
    contents_capacity_j_k: float = 40_000.0
    contents_conductance_w_k: float = 8.0
    wall_loss_w_k: float = 1.6
    heater_w: float = 60.0
    volume_m3: float = 0.15
    exchange_per_h: float = 0.5
    door_loss_w_k: float = 12.0
    door_exchange_per_h: float = 90.0
    tray_m3_s: float = 6e-5
    surface_m3_s: float = 3e-4
    temperature_factor: float = 0.85
    """of the coldest inner surface, as for a box"""
    thermostat: Thermostat = field(default_factory=Thermostat)
    room: RoomParameters = field(default_factory=RoomParameters)
    zones: tuple[ZoneParameters, ...] = ()
    boxes: tuple[BoxParameters, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a box on a shelf that is not there."""
        known = {self.place, *(zone.place for zone in self.zones)}
        for box in self.boxes:
            if box.zone not in known:
                raise ValueError(
                    f"box {box.place} stands in {box.zone}, which is no zone of {self.place}; add the zone"
                )

    def loss_w_k(self, door_open: bool) -> float:
        """Heat lost to the room for each kelvin of difference: walls, exchanged air, and an open door."""
        exchange_per_h = self.exchange_per_h + (self.door_exchange_per_h if door_open else 0.0)
        ventilation_w_k = AIR_HEAT_J_M3_K * self.volume_m3 * exchange_per_h / 3600.0
        return self.wall_loss_w_k + ventilation_w_k + (self.door_loss_w_k if door_open else 0.0)

    def exchange_m3_s(self, door_open: bool) -> float:
        """Air exchanged with the room."""
        return self.volume_m3 * (self.exchange_per_h + (self.door_exchange_per_h if door_open else 0.0)) / 3600.0
