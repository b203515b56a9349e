"""The page of charts: what can be chosen, and what was. Pure."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from config.words import CONTACT_WORDS, Quantity
from daemon.chart_reader import ChartChannel, ChartSite, groups
from daemon.series import Bucket, Series
from dashboards import figures
from dashboards.chart_request import OWN, PERIODS, SEASON, AskedError
from dashboards.chart_svg import Panel, panel, scale_of
from dashboards.readings import QUANTITY_WORDS

DRAWN_BUCKETS = 240
"""So many stretches a drawing has: each is as wide as its line."""
CSV_BUCKETS = 2000
USUAL_CHANNELS = 4
_NONE = "\N{EN DASH}\N{EN DASH}"
_BEHIND = "Readings of a long time are still being gathered, so some may be missing here. Look again in a minute."


@dataclass(frozen=True, slots=True)
class Choice:
    """A box to tick, or a period to take."""

    value: str
    name: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A channel in numbers over the whole period, and its drawing; `panel` is None where no reading is good."""

    name: str
    where: str
    unit: str
    least: str
    mean: str
    most: str
    readings: str
    suspect: str
    panel: Panel | None


@dataclass(frozen=True, slots=True)
class ChartsView:
    """The whole page. `said` is what is wrong with what was asked, beside the field of that name.

    `follow` says how an open chart keeps up with the present: `slide` has it always as long as it is, with `grow` its
    beginning stays, and empty is for a period that is over.
    """

    clock: str
    zone: str
    groups: tuple[tuple[str, tuple[Choice, ...]], ...]
    periods: tuple[Choice, ...]
    start: str
    end: str
    is_own: bool
    field: str
    said: str
    heading: str
    rows: tuple[Row, ...]
    notes: tuple[str, ...]
    query: str
    csv_query: str
    fahrenheit: bool
    follow: str
    now_ms: int


@dataclass(frozen=True, slots=True)
class Typed:
    """What a person chose and typed, as it came."""

    channels: tuple[str, ...]
    period: str
    start: str
    end: str


def channel_name(channel: ChartChannel) -> str:
    """Name a channel where its incubator is named already."""
    words = QUANTITY_WORDS[channel.quantity]
    place = "" if channel.place_name == channel.group else f", {channel.place_name}"
    return f"{words}{place} (probe {channel.probe})"


def usual_channels(site: ChartSite) -> tuple[str, ...]:
    """Give what is shown where nothing was chosen: the first measured channels of the first incubator."""
    measured = [each for each in site.channels if not each.quantity.is_contact] or list(site.channels)
    first = measured[0].group if measured else ""
    return tuple(each.channel for each in measured if each.group == first)[:USUAL_CHANNELS]


def charts_view(
    site: ChartSite, typed: Typed, read: Sequence[Series], now_ms: int, error: AskedError | None = None
) -> ChartsView:
    """Make the page of what was read, or of what is wrong."""
    zone = ZoneInfo(site.time_zone)
    start, end = typed.start, typed.end
    span = {"from": read[0].from_ms, "until": read[0].until_ms} if read else {}
    if read:
        start, end = (f"{figures.local(at, zone):%Y-%m-%dT%H:%M}" for at in span.values())
    query = [("channel", each.channel) for each in read]
    return ChartsView(
        clock=figures.moment_text(figures.local(now_ms, zone)),
        zone=site.time_zone,
        groups=_groups(site, typed.channels),
        periods=tuple(Choice(value, name, value == typed.period) for value, name in _period_names().items()),
        start=start,
        end=end,
        is_own=typed.period == OWN,
        field=error.field if error else "",
        said=str(error) if error else "",
        heading=_heading(read, zone),
        rows=_rows(site, read, zone, now_ms),
        notes=(_BEHIND,) if any(each.is_behind for each in read) else (),
        query=urlencode([*query, *span.items()]) if read else "",
        csv_query=urlencode([*query, *span.items(), ("width", CSV_BUCKETS)]) if read else "",
        fahrenheit=site.fahrenheit,
        follow=_follow(typed),
        now_ms=now_ms,
    )


def _follow(typed: Typed) -> str:
    if typed.period in PERIODS:
        return "slide"
    return "" if typed.period == OWN and typed.end.strip() else "grow"


def _period_names() -> dict[str, str]:
    return {**{value: name for value, (name, _) in PERIODS.items()}, SEASON: "Season", OWN: "Own period"}


def _groups(site: ChartSite, chosen: Collection[str]) -> tuple[tuple[str, tuple[Choice, ...]], ...]:
    return tuple(
        (name, tuple(Choice(each.channel, channel_name(each), each.channel in chosen) for each in channels))
        for name, channels in groups(site.channels).items()
    )


def _heading(read: Sequence[Series], zone: ZoneInfo) -> str:
    if not read:
        return "Charts"
    first, last = (figures.moment_text(figures.local(at, zone)) for at in (read[0].from_ms, read[0].until_ms))
    return f"{first} to {last}"


def _rows(site: ChartSite, read: Sequence[Series], zone: ZoneInfo, now_ms: int) -> tuple[Row, ...]:
    channels = {each.channel: each for each in site.channels}
    sorts: dict[str, list[Series]] = {}
    for each in read:
        sorts.setdefault(_sort(channels[each.channel].quantity), []).append(each)
    return tuple(_row(channels, each, sorts, site, zone, now_ms) for each in read)


def _sort(quantity: Quantity) -> str:
    """Air and surface share a scale."""
    return "temperature" if quantity.is_temperature else quantity.value


def _row(
    channels: Mapping[str, ChartChannel],
    read: Series,
    sorts: Mapping[str, Sequence[Series]],
    site: ChartSite,
    zone: ZoneInfo,
    now_ms: int,
) -> Row:
    channel = channels[read.channel]
    quantity, fahrenheit = channel.quantity, site.fahrenheit
    good = [each for each in read.buckets if each.good]
    count, suspect = sum(each.good for each in good), sum(each.suspect for each in read.buckets)
    drawing = None
    if good:
        scale = scale_of(quantity, sorts[_sort(quantity)], fahrenheit)
        drawing = panel(quantity, read, scale, fahrenheit, zone, now_ms, site.bridge_ms)
    numbers = _numbers(quantity, good, fahrenheit)
    return Row(
        name=channel_name(channel),
        where=channel.group,
        unit="" if quantity.is_contact else figures.quantity_value(quantity, 0.0, fahrenheit).unit,
        least=numbers[0],
        mean=numbers[1],
        most=numbers[2],
        readings=figures.number(count, 0),
        suspect=figures.number(suspect, 0) if suspect else "",
        panel=drawing,
    )


def _numbers(quantity: Quantity, good: Sequence[Bucket], fahrenheit: bool) -> tuple[str, str, str]:
    """Least, mean and most; of a contact the share of readings that say the second of its two words."""
    if not good:
        return _NONE, _NONE, _NONE
    count = sum(each.good for each in good)
    mean = sum((each.mean or 0.0) * each.good for each in good) / count
    least = min(each.least for each in good if each.least is not None)
    most = max(each.most for each in good if each.most is not None)
    if quantity.is_contact:
        word = CONTACT_WORDS[quantity]
        return word[least != 0], f"{figures.percent(mean)} {word[1]}", word[most != 0]
    return (
        str(figures.quantity_value(quantity, least, fahrenheit)),
        str(figures.quantity_value(quantity, mean, fahrenheit)),
        str(figures.quantity_value(quantity, most, fahrenheit)),
    )
