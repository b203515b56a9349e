"""What the first page shows, as plain values. Filled by `daemon/queries.py`, drawn by `dashboards/`."""

from collections.abc import Mapping
from dataclasses import dataclass

from config.words import AlarmKind, Priority, Quantity
from daemon.alarm_board_values import RoundNow
from daemon.development.window import HatchWindow, NoWindow
from daemon.rounds.last import LastRound, RoundDue
from daemon.standing.reading_trend import ReadingTrend
from daemon.storage.messages import KeptMessage
from sensors.reading import Outcome


@dataclass(frozen=True, slots=True)
class ChannelNow:
    """The newest reading of one channel and the limits it is watched against (canonical units).

    `old_after_ms`: for so long after `measured_at_ms` the reading says how the place is now. A good `value` is
    corrected by the calibration that counts, a suspect one is as the probe said it; `standard_uncertainty` is k = 1.
    `calibrated_ms` is when the points of that calibration were measured, None where none counts. `trend` is that of the
    last hour, None for a contact.
    """

    channel: str
    probe: str
    quantity: Quantity
    place: str
    value: float | None
    measured_at_ms: int | None
    quality: int
    low: float | None
    high: float | None
    lethal_low: float | None
    lethal_high: float | None
    old_after_ms: int
    standard_uncertainty: float | None = None
    calibrated_ms: int | None = None
    calibration_due_ms: int | None = None
    trend: ReadingTrend | None = None


@dataclass(frozen=True, slots=True)
class ClimateNow:
    """Dew point and margin at one place, from its newest temperature and humidity of nearly the same time.

    `dew_point_u_k`: its standard uncertainty (k = 1), from that of both probes. `condensation_probability` is that of
    water on the surface, None where the surface is not known. Hours with water are expected ones, of the last 24 h with
    `hours_unread_24h` of these without readings, and as a mean day of the last seven; `condensation_range_24h` are the
    hours that are certain and those that are possible. `stays_wet`: water was on the surface, and the margin has not
    left the deadband since. `dry_out` says until when to add water; it is empty where the humidity shows no trend
    towards its limit.
    """

    place: str
    measured_at_ms: int
    air_temperature_c: float
    relative_humidity_pct: float
    dew_point_c: float
    surface_temperature_c: float | None
    margin_k: float | None
    reason: str
    old_after_ms: int
    dew_point_u_k: float | None = None
    vpd_pa: float | None = None
    surface_humidity_pct: float | None = None
    condensation_probability: float | None = None
    condensation_hours_24h: float | None = None
    hours_unread_24h: float | None = None
    condensation_hours_mean_day: float | None = None
    stays_wet: bool = False
    dry_out: str = ""
    condensation_range_24h: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class ClutchNow:
    """One clutch: where it lies, the heat it has had since laying, and when it will hatch.

    Heat is an interval, low and high at about 95 %. Where nothing is known of the species there is none; `share` is
    None also where its development pauses. `window` says when, or why nobody can. `reason` says why there is no heat or
    no share, `counted` how the heat is counted, `caution` what whoever goes near must know of the animals; each is
    empty where there is nothing to say. `hours_missing` are hours since the set-up without readings. `stage` says why
    limits of a stage hold, `sex` what its temperatures so far tell of sex; `exposure_limits` has a sentence for each
    exposure limit of its species that is passed, or of which nobody can say that it is not.
    """

    clutch_id: int
    label: str
    species_id: str
    species_name: str
    place: str
    egg_count: int
    laid_from_ms: int
    laid_to_ms: int
    set_up_ms: int
    degree_hours_low_ch: float | None
    degree_hours_ch: float | None
    degree_hours_high_ch: float | None
    thermal_constant_ch: float | None
    share: float | None
    rate_now_k: float | None
    recent_rate_k: float | None
    recent_mean_c: float | None
    hours_missing: float
    hours_above_cap: float
    hours_below_zero: float
    window: HatchWindow | NoWindow
    reason: str
    counted: str
    caution: str
    stage: str = ""
    sex: str = ""
    exposure_limits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AlarmNow:
    """One alarm that is not in the normal state.

    `body` is what to do first; `background` what is likely, what happens if nothing is done, and the time left.
    `state` is the word of ISA-18.2 / IEC 62682. `key`, `occurrence` and `version` name exactly this call of it; `key`
    is empty where nobody can answer to it. `waits`: nobody has acknowledged. `is_on` is False where it is back in
    range and is kept for somebody to look. `caution` is what whoever goes there must know of the animals in reach.
    """

    kind: AlarmKind
    priority: Priority
    place: str
    channel: str
    state: str
    since_ms: int
    headline: str
    body: str
    background: str
    key: str = ""
    occurrence: str = ""
    version: int = 0
    waits: bool = True
    is_on: bool = True
    acknowledged_by: str = ""
    shelved_until_ms: int | None = None
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Untold:
    """One alarm that nobody is told of at present, and one reason for that.

    `state` is shelved, suppressed by design or out of service. `until_ms`: the end of the shelf, the review date, or
    the moment at which what is suppressed by design is told at the latest; `mode` is the designed reason, empty where a
    person wanted it.
    """

    key: str
    kind: AlarmKind
    priority: Priority
    name: str
    state: str
    until_ms: int
    who: str = ""
    why: str = ""
    mode: str = ""


@dataclass(frozen=True, slots=True)
class IncubatorNow:
    """One incubator with what is in it.

    `place_names` has a name for people for every place inside, without the incubator's own name; `conflicts` has one
    sentence for each pair of clutches in it that do not suit each other.
    """

    incubator_id: str
    name: str
    channels: tuple[ChannelNow, ...]
    climates: tuple[ClimateNow, ...]
    clutches: tuple[ClutchNow, ...]
    alarms: tuple[AlarmNow, ...]
    place_names: Mapping[str, str]
    conflicts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Overview:
    """Everything on the first page at one moment.

    `troubles` are sentences about the service itself; while there is one, nothing here is known to be well. `room` is
    the air around the incubators where a probe measures it, in the same form: without clutches, limits and climates.
    """

    site_name: str
    time_zone: str
    fahrenheit: bool
    now_ms: int
    clock_rate: float
    broker_connected: bool
    broker_detail: str
    incubators: tuple[IncubatorNow, ...]
    alerts_delivered: int
    alerts_waiting: int
    samples_stored: int
    troubles: tuple[str, ...] = ()
    room: IncubatorNow | None = None
    whole_site: IncubatorNow | None = None
    """in the same form, alarms that are about no incubator: mains, broker, disk, people"""
    untold: tuple[Untold, ...] = ()
    rounds: tuple[RoundNow, ...] = ()
    last_round: LastRound | None = None
    """the round that was ended last; None where none ever was"""
    rounds_due: tuple[RoundDue, ...] = ()
    is_demo: bool = False

    @property
    def watched(self) -> tuple[IncubatorNow, ...]:
        """Whatever may have a reading or an alarm: the incubators, the room where it is measured, the whole site."""
        return (*self.incubators, *(each for each in (self.room, self.whole_site) if each is not None))


@dataclass(frozen=True, slots=True)
class Messages:
    """What became of the messages of the probes: a count for each outcome that came, and the newest rejected ones."""

    time_zone: str
    counts: Mapping[Outcome, int]
    kept: tuple[KeptMessage, ...]
