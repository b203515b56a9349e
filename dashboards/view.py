"""From the overview to texts, marks and positions. Pure: templates only place what is made here."""

import hashlib
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.overview import Overview
from dashboards import figures
from dashboards.alarms import AlarmView, alarm_views
from dashboards.incubators import IncubatorView, incubator_view, worst_first
from dashboards.review_list_view import ReviewDue
from dashboards.room import RoomView, room_view
from dashboards.rounds_last import DueView, LastRoundView, due_view, last_round_view
from dashboards.untold import UntoldLine, untold_lines
from dashboards.verdict import Banner, verdict

REAL_RATE = 1.0


@dataclass(frozen=True, slots=True)
class PageView:
    """The whole status page. `demo` is empty unless the clock runs at another rate than the real one.

    The banner tells of `first_alarm`, where there is one; `other_alarms` follow under it. Incubators: the worst first.
    """

    site_name: str
    clock: str
    zone: str
    demo: str
    banner: Banner
    first_alarm: AlarmView | None
    other_alarms: tuple[AlarmView, ...]
    untold: tuple[UntoldLine, ...]
    incubators: tuple[IncubatorView, ...]
    room: RoomView | None
    footer: tuple[str, ...]
    last_round: LastRoundView | None = None
    round_due: DueView | None = None
    review_due: ReviewDue | None = None

    @property
    def has_clutches(self) -> bool:
        """True where eggs lie in one of the incubators."""
        return any(incubator.clutches for incubator in self.incubators)

    @property
    def version(self) -> str:
        """Differs wherever something that is shown differs."""
        return version_of(self)


def version_of(shown: object) -> str:
    """Make a short mark of what is shown, for an open page to compare."""
    return hashlib.blake2b(repr(shown).encode(), digest_size=8).hexdigest()


def page_view(overview: Overview) -> PageView:
    """Everything on the status page at `overview.now_ms`."""
    zone = ZoneInfo(overview.time_zone)
    alarms = alarm_views(overview, zone)
    return PageView(
        site_name=overview.site_name,
        clock=figures.moment_text(figures.local(overview.now_ms, zone)),
        zone=overview.time_zone,
        demo=demo_line(overview.clock_rate, is_demo=overview.is_demo),
        banner=verdict(overview),
        first_alarm=alarms[0] if alarms else None,
        other_alarms=alarms[1:],
        untold=untold_lines(overview, zone),
        incubators=tuple(incubator_view(incubator, overview, zone) for incubator in worst_first(overview)),
        room=None if overview.room is None else room_view(overview.room, overview, zone),
        footer=_footer(overview),
        last_round=last_round_view(overview.last_round, overview.now_ms, zone),
        round_due=due_view(overview.rounds_due, overview.now_ms, zone),
    )


def demo_line(rate: float, *, is_demo: bool = False) -> str:
    """Say that nothing here is real, and how fast the clock runs; nothing where all is real."""
    if rate != REAL_RATE:
        return f"Demo: invented, {rate:g} times faster than real time"
    return "Demo: invented, in real time while a round goes on" if is_demo else ""


def _footer(overview: Overview) -> tuple[str, ...]:
    broker = "connected" if overview.broker_connected else "lost"
    waiting = f", {overview.alerts_waiting} waiting" if overview.alerts_waiting else ""
    kept = figures.number(overview.samples_stored, 0)
    return (
        f"Broker {broker}. {kept} readings kept. Alerts: {overview.alerts_delivered} delivered{waiting}.",
        "Heat is counted in °C·h" + (", whatever unit the temperatures have." if overview.fahrenheit else "."),
        "A value lies within its ± in about 95 of 100 cases.",
    )
