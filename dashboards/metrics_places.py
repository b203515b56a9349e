"""Where a measured value belongs, as labels of a metric. Pure."""

from daemon.overview import ChannelNow

PLACE_LABELS = ("site", "incubator", "zone", "box")
CHANNEL_LABELS = (*PLACE_LABELS, "probe", "channel")


def place_labels(site: str, place: str) -> list[str]:
    """Give the labels of a place such as north/upper/N1; a part that it does not have is empty."""
    incubator, zone, box = (*place.split("/"), "", "")[:3]
    return [site, incubator, zone, box]


def channel_labels(site: str, channel: ChannelNow) -> list[str]:
    """Give the labels of a channel."""
    return [*place_labels(site, channel.place), channel.probe, channel.channel]
