"""The air temperature channels of a site whose place may have eggs, with what each look needs to know of them."""

from collections.abc import Iterator
from typing import NamedTuple

from config.model import ROOM
from config.site import Site
from config.words import Quantity
from daemon.standing_sources.source import Moment
from sensors.reading import ChannelKey


class AirChannel(NamedTuple):
    """A channel, the place of its probe, and how often that sends, seconds."""

    key: ChannelKey
    place: str
    interval_s: float


def air_channels(site: Site) -> tuple[AirChannel, ...]:
    """Give the channels in incubators: the room is no place of eggs."""
    return tuple(
        AirChannel(
            ChannelKey(f"{probe.id}/{channel.name}", probe.id, channel.name, channel.quantity),
            probe.place,
            probe.interval_s,
        )
        for probe in site.probes
        for channel in probe.channels
        if channel.quantity is Quantity.AIR_TEMPERATURE and probe.place != ROOM
    )


def with_eggs(channels: tuple[AirChannel, ...], moment: Moment) -> Iterator[AirChannel]:
    """Give those channels where a clutch lies now: elsewhere nothing can be harmed."""
    return (each for each in channels if moment.occupancy.lying_in(each.place, moment.now_ms))
