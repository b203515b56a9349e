"""What is known of the air around the incubators: reads the room's probe from the journal, where there is one."""

import sqlite3

from config.places import Places
from config.site import Incubator, Site
from config.words import Quantity
from daemon.climate.cooling import RoomAir
from daemon.climate.room_air import ROOM_READING_COUNTS_MS, RoomReadings, stated_room
from daemon.storage import samples
from sensors.calibration import Calibrations


class Room:
    """The room of one site."""

    def __init__(self, site: Site) -> None:
        self.channel = next(
            (
                f"{probe.id}/{channel.name}"
                for probe in Places(site).room_probes()
                for channel in probe.channels
                if channel.quantity is Quantity.AIR_TEMPERATURE
            ),
            None,
        )
        """The channel that measures it; None where none does."""

    def readings(
        self, conn: sqlite3.Connection, corrections: Calibrations, start_ms: int, end_ms: int
    ) -> RoomReadings | None:
        """Good readings from start to end and the nearest ones around; None where there is none."""
        if self.channel is None:
            return None
        rows = samples.good_between(conn, self.channel, start_ms, end_ms, ROOM_READING_COUNTS_MS)
        if not rows:
            return None
        corrected = [corrections.corrected(self.channel, value, at_ms) for at_ms, value in rows]
        u_k = max(corrections.standard_uncertainty(self.channel, value, at_ms) for at_ms, value in (rows[0], rows[-1]))
        return RoomReadings([at_ms for at_ms, _ in rows], corrected, u_k)


def stated_of(incubator: Incubator) -> RoomAir | None:
    """Give the room around an incubator as the keeper stated it; None where nothing is stated."""
    return stated_room(incubator.room_temperature_c, incubator.room_temperature_u_k)
