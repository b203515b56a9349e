"""The list of clutches: what stands in each row, in which order, and which are shown. Pure."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.clutch_record_values import EggsAndCheck, OtherClutch
from daemon.development.window import HatchWindow
from daemon.overview import ChannelNow, ClutchNow, IncubatorNow, Overview
from dashboards import figures
from dashboards.clutch_eggs import NEVER_MS, check_mark, eggs_text
from dashboards.clutches import ClutchView, clutch_view
from dashboards.places import full_name
from dashboards.standing import Mark, Shape, Standing, Tone, standing, standing_mark

NO_INCUBATOR = IncubatorNow("", "", (), (), (), (), {})
"""Where a clutch has none; its place has its whole name already."""
_LATE = 2**62
_DEPTH_OF_A_BOX = 2
_NOT_MEASURED = Mark(Shape.GAP, "not measured", Tone.UNKNOWN)
GONE = Mark(Shape.GAP, "place is not in the site file", Tone.UNKNOWN)
_NONE_YET = "No clutch is on record yet. Press “Enter a clutch”."


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for: the order, and of which species and incubator; empty for all. `closed`: those as well."""

    sort: str = "hatch"
    species: str = ""
    incubator: str = ""
    closed: bool = False


@dataclass(frozen=True, slots=True)
class ClutchRow:
    """One row: the clutch as on the first page, its whole place, how it stands, and what orders and chooses it.

    `eggs` says what has become of them, `check` when they are looked at next; None where nothing is due.
    """

    clutch_id: int
    view: ClutchView
    place: str
    mark: Mark
    now: ClutchNow
    standing: Standing
    incubator_id: str
    closed_at_ms: int | None
    eggs: str
    check: Mark | None
    told: EggsAndCheck


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several values of a field, with its words."""

    value: str
    words: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class ClutchListView:
    """The whole page. `notice` says which wish could not be met; `empty` why there is no row."""

    site_name: str
    clock: str
    zone: str
    rows: tuple[ClutchRow, ...]
    count: str
    orders: tuple[Choice, ...]
    species: tuple[Choice, ...]
    incubators: tuple[Choice, ...]
    closed: bool
    notice: str
    empty: str

    @property
    def is_chosen_from(self) -> bool:
        """True where there is anything to order and choose from."""
        return self.empty != _NONE_YET


def _hatch_ms(row: ClutchRow) -> int:
    return row.now.window.likely_ms if isinstance(row.now.window, HatchWindow) else _LATE


def _check_ms(row: ClutchRow) -> int:
    return NEVER_MS if row.told.next_check_ms is None else row.told.next_check_ms


_ORDERS: Mapping[str, tuple[str, Callable[[ClutchRow], tuple[object, ...]]]] = {
    "hatch": ("hatching first", lambda row: (_hatch_ms(row),)),
    "share": ("furthest first", lambda row: (-(row.now.share or 0.0),)),
    "limits": ("worst climate first", lambda row: (-row.standing,)),
    "check": ("next check first", lambda row: (_check_ms(row),)),
    "day": ("longest set up first", lambda row: (row.now.set_up_ms,)),
    "label": ("label", lambda _row: ()),
    "species": ("species", lambda row: (row.view.species.lower(),)),
    "place": ("place", lambda row: (row.place.lower(),)),
}


def clutch_list_view(
    overview: Overview,
    others: Iterable[OtherClutch],
    wanted: Wanted,
    told: Mapping[int, EggsAndCheck] = MappingProxyType({}),
) -> ClutchListView:
    """Turn the overview, and the clutches that it does not have, into the rows that were asked for."""
    zone = ZoneInfo(overview.time_zone)
    every = [
        _with_eggs(row, told.get(row.clutch_id, row.told), overview.now_ms, zone)
        for row in (*_rows(overview, zone), *_other_rows(others, overview, zone))
    ]
    here = [row for row in every if wanted.closed or row.closed_at_ms is None]
    shown = [
        row for row in here if wanted.species in ("", row.now.species_id) and wanted.incubator in ("", row.incubator_id)
    ]
    _, key = _ORDERS.get(wanted.sort, _ORDERS["hatch"])
    shown.sort(key=lambda row: (row.closed_at_ms is not None, *key(row), row.now.label.lower()))
    return ClutchListView(
        site_name=overview.site_name,
        clock=figures.moment_text(figures.local(overview.now_ms, zone)),
        zone=overview.time_zone,
        rows=tuple(shown),
        count=f"{len(shown)} of {len(here)}" if len(shown) != len(here) else str(len(shown)),
        orders=tuple(Choice(name, words, name == wanted.sort) for name, (words, _) in _ORDERS.items()),
        species=_choices({row.now.species_id: row.view.species for row in every}, wanted.species),
        incubators=_choices({one.incubator_id: one.name for one in overview.incubators}, wanted.incubator),
        closed=wanted.closed,
        notice=_notice(wanted, every, overview),
        empty=_empty(shown, here, every),
    )


def limits_mark(clutch: ClutchNow, incubator: IncubatorNow, overview: Overview) -> tuple[Standing, Mark]:
    """How the climate of a clutch stands: the worse of its air temperature and of the humidity in its box."""
    judged = [(standing(channel, overview), channel.quantity) for channel in channels_of(clutch, incubator)]
    if not judged:
        return Standing.NO_READING, _NOT_MEASURED
    worst, quantity = max(judged, key=lambda each: each[0])
    return worst, standing_mark(worst, quantity)


def channels_of(clutch: ClutchNow, incubator: IncubatorNow) -> Iterator[ChannelNow]:
    """The channel that speaks for the air of a clutch: of its box, else its shelf, else the incubator."""
    parts = clutch.place.split("/")
    chain = ["/".join(parts[:length]) for length in range(len(parts), 0, -1)]
    for quantity in (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY):
        reach = chain if quantity.is_temperature else [each for each in chain[:1] if each.count("/") == _DEPTH_OF_A_BOX]
        here = [
            channel
            for place in reach
            for channel in incubator.channels
            if channel.place == place and channel.quantity is quantity
        ]
        yield from here[:1]


def _rows(overview: Overview, zone: ZoneInfo) -> Iterator[ClutchRow]:
    for incubator in overview.incubators:
        for clutch in incubator.clutches:
            view = clutch_view(clutch, incubator, overview.now_ms, zone, fahrenheit=overview.fahrenheit)
            worst, mark = limits_mark(clutch, incubator, overview)
            place, number = full_name(incubator, clutch.place), clutch.clutch_id
            at = incubator.incubator_id
            yield ClutchRow(number, view, place, mark, clutch, worst, at, None, view.eggs, None, EggsAndCheck())


def _other_rows(others: Iterable[OtherClutch], overview: Overview, zone: ZoneInfo) -> Iterator[ClutchRow]:
    for other in others:
        clutch, closed_ms = other.clutch, other.closed_at_ms
        shown_ms = overview.now_ms if closed_ms is None else closed_ms
        view = clutch_view(clutch, NO_INCUBATOR, shown_ms, zone, fahrenheit=overview.fahrenheit)
        mark, worst = GONE, Standing.NO_READING
        if closed_ms is not None:
            date = figures.full_date_text(figures.local(closed_ms, zone))
            mark, worst = Mark(Shape.RING, f"closed {date}", Tone.PLAIN), Standing.NO_LIMITS
            view = replace(view, days=view.days.replace("since set-up", "from set-up to closing"))
        incubator_id = clutch.place.split("/", 1)[0]
        at = (clutch.clutch_id, view, other.place_name, mark, clutch, worst, incubator_id, closed_ms)
        yield ClutchRow(*at, view.eggs, None, EggsAndCheck())


def _with_eggs(row: ClutchRow, told: EggsAndCheck, now_ms: int, zone: ZoneInfo) -> ClutchRow:
    eggs = row.view.eggs if told.eggs is None else f"{row.view.eggs}: {eggs_text(told.eggs)}"
    return replace(row, eggs=eggs, check=check_mark(told, now_ms, zone), told=told)


def _choices(names: Mapping[str, str], chosen: str) -> tuple[Choice, ...]:
    ordered = sorted(names.items(), key=lambda each: each[1].lower())
    return (Choice("", "all", not chosen), *(Choice(value, words, value == chosen) for value, words in ordered))


def _notice(wanted: Wanted, every: Iterable[ClutchRow], overview: Overview) -> str:
    told = []
    if wanted.sort not in _ORDERS:
        told.append(f"There is no order “{wanted.sort[:40]}”: those that hatch first come first.")
    if wanted.species and wanted.species not in {row.now.species_id for row in every}:
        told.append(f"No clutch is of a species “{wanted.species[:60]}”. Choose one below.")
    if wanted.incubator and wanted.incubator not in {one.incubator_id for one in overview.incubators}:
        told.append(f"There is no incubator “{wanted.incubator[:60]}”. Choose one below.")
    return " ".join(told)


def _empty(shown: list[ClutchRow], here: list[ClutchRow], every: list[ClutchRow]) -> str:
    if shown:
        return ""
    if here:
        return "No clutch is as you chose. Choose “all”."
    if every:
        return "No clutch is open. Closed ones are shown when you ask for them."
    return _NONE_YET
