"""Small sites: a probe of our own kind, a gateway that feeds two channels and a bare number; and one probe alone."""

from config.site import ChannelSpec, Incubator, Probe, Site, Source
from config.words import Quantity

SITE = Site(
    name="Reptile room",
    time_zone="Europe/Berlin",
    temperature_unit="C",
    incubators=(Incubator(id="north", name="North cabinet"),),
    probes=(
        Probe(
            id="north-air",
            place="north",
            channels=(
                ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE),
                ChannelSpec(name="rh", quantity=Quantity.RELATIVE_HUMIDITY),
                ChannelSpec(name="lid", quantity=Quantity.SURFACE_TEMPERATURE),
            ),
        ),
        Probe(
            id="gateway",
            place="north",
            channels=(
                ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE),
                ChannelSpec(name="rh", quantity=Quantity.RELATIVE_HUMIDITY),
            ),
            sources=(
                Source(topic="room/+/state", channel="t", pointer="/temperature", unit="degF"),
                Source(topic="room/+/state", channel="rh", pointer="/humidity", unit="percent"),
            ),
        ),
        Probe(
            id="floor",
            place="north",
            channels=(ChannelSpec(name="t", quantity=Quantity.AIR_TEMPERATURE),),
            sources=(Source(topic="floor/t", channel="t", unit="degC", scale=0.1),),
        ),
    ),
    people=(),
    alarms={},
)


def one_probe(name: str, **channels: Quantity) -> Site:
    """A site with a single probe in its incubator, with these channels."""
    stated = tuple(ChannelSpec(name=channel, quantity=quantity) for channel, quantity in channels.items())
    return Site(
        name="Barn",
        time_zone="UTC",
        incubators=(Incubator(id="north", name="North"),),
        probes=(Probe(id=name, place="north", channels=stated),),
    )
