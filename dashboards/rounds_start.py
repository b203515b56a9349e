"""The page where rounds start, and where those that go on and those of the past are found. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.alarms.round_suppression import LONGEST_ROUND_MS
from daemon.rounds.cautions import Caution, cautions
from daemon.rounds.summary import EggsOf, Skipped, Sooner, Summary
from daemon.rounds.walk import IncubatorDue
from daemon.storage.rounds import RoundOnRecord
from dashboards import figures
from dashboards.rounds_paths import summary_path, walk_path

_MINUTE_MS, _SHORT_CAUTIONS = 60_000, 4
MINUTES = (10, 15, 20, 30)


@dataclass(frozen=True, slots=True)
class IncubatorView:
    """One incubator: when a round is due, and the way into the one that goes on."""

    incubator: str
    name: str
    words: str
    is_due: bool
    going_on: str
    resume_path: str


@dataclass(frozen=True, slots=True)
class PastView:
    """A round that was ended."""

    path: str
    words: str


@dataclass(frozen=True, slots=True)
class StartPage:
    """The page. `all_path` leads into all rounds that go on, where there is more than one."""

    incubators: tuple[IncubatorView, ...]
    free: tuple[IncubatorView, ...]
    all_path: str
    past: tuple[PastView, ...]
    cautions: tuple[Caution, ...]
    minutes: tuple[int, ...]
    chosen: str
    chosen_minutes: int
    errors: Mapping[str, str]


def start_page(
    due: Sequence[IncubatorDue],
    newest: Sequence[RoundOnRecord],
    now_ms: int,
    zone: ZoneInfo,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
) -> StartPage:
    """Put it together; `typed` and `errors` are of a form that was refused."""
    views = tuple(_incubator(each, now_ms, zone) for each in due)
    running = [each.going_on.number for each in due if each.going_on is not None]
    names = {each.incubator: each.name for each in due}
    minutes = typed.get("minutes", "")
    return StartPage(
        incubators=views,
        free=tuple(view for view in views if not view.resume_path),
        all_path=walk_path(running) if len(running) > 1 else "",
        past=tuple(_past(each, names, now_ms, zone) for each in newest if each.round.ended_ms is not None),
        cautions=cautions(None, venomous=False)[:_SHORT_CAUTIONS],
        minutes=MINUTES,
        chosen=typed.get("incubator", ""),
        chosen_minutes=int(minutes) if minutes in {str(each) for each in MINUTES} else LONGEST_ROUND_MS // _MINUTE_MS,
        errors=errors,
    )


def begun_already(due: Sequence[IncubatorDue], wanted: str, who: str, now_ms: int, zone: ZoneInfo) -> tuple[str, str]:
    """Give the way into the rounds that go on where one is wanted, if all are those of `who`; else what keeps it back.

    `wanted`: an incubator, or "all". Both are empty where nothing goes on there.
    """
    here = [each for each in due if wanted in (each.incubator, "all")]
    going = [each.going_on for each in here if each.going_on is not None]
    if going and len(going) == len(here) and {each.round.who for each in going} == {who}:
        return walk_path([each.number for each in going]), ""
    told = [f"{each.name}: {_incubator(each, now_ms, zone).going_on}" for each in here if each.going_on is not None]
    return "", f"{' '.join(told)} Go on with it, or end it first." if told else ""


DEMO_START = (
    "Demo: everything here is invented, and its clock runs faster than yours. While a round goes on it runs in real "
    "time, so that you have as long for one as at home."
)
DEMO_WALK = "Demo: invented. Its clock runs in real time while a round goes on."


def _incubator(each: IncubatorDue, now_ms: int, zone: ZoneInfo) -> IncubatorView:
    clutches = f"{each.clutches} clutch{'' if each.clutches == 1 else 'es'} in {each.boxes} place"
    words, is_due = f"{clutches}{'' if each.boxes == 1 else 's'}. No eggs here, so no round is due.", False
    if each.due_ms is not None:
        is_due = each.due_ms <= now_ms
        day = figures.date_text(figures.local(each.due_ms, zone))
        words = f"{clutches}{'' if each.boxes == 1 else 's'}. A round {'was due' if is_due else 'is due'} {day}."
    going_on, path = "", ""
    if each.going_on is not None:
        one = each.going_on.round
        began = figures.clock_text(figures.local(one.started_ms, zone), figures.local(now_ms, zone))
        going_on = f"{one.who} began a round here at {began}."
        path = walk_path((each.going_on.number,))
    return IncubatorView(each.incubator, each.name, words, is_due, going_on, path)


def _past(found: RoundOnRecord, names: Mapping[str, str], now_ms: int, zone: ZoneInfo) -> PastView:
    one = found.round
    began = figures.clock_text(figures.local(one.started_ms, zone), figures.local(now_ms, zone))
    lasted_ms = (one.ended_ms or one.started_ms) - one.started_ms
    name = names.get(one.incubator, one.incubator)
    words = f"{began}: {name}, by {one.who}, {figures.duration(lasted_ms // 1000)}"
    return PastView(summary_path((found.number,)), words)


@dataclass(frozen=True, slots=True)
class SummaryPart:
    """A heading and its lines. `venomous`: the numbers of those lines, from 0 on, that trained handlers alone go to."""

    heading: str
    lines: tuple[str, ...]
    venomous: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SummaryView:
    """What one round came to. `facts` are pairs of name and value."""

    number: int
    heading: str
    facts: tuple[tuple[str, str], ...]
    parts: tuple[SummaryPart, ...]
    note: str
    is_ended: bool


def summary_view(found: Summary, name: str, zone: ZoneInfo) -> SummaryView:
    """Put a summary into words. `name`: that of the incubator."""
    one = found.round.round
    began = figures.moment_text(figures.local(one.started_ms, zone))
    due = (
        "no eggs are left"
        if found.next_due_ms is None
        else figures.full_date_text(figures.local(found.next_due_ms, zone))
    )
    lasted = "goes on" if found.duration_ms is None else figures.duration(found.duration_ms // 1000)
    facts = (
        ("Begun", f"{began} by {one.who}"),
        ("Lasted", lasted if not found.round.ended_by else f"{lasted}, ended by {found.round.ended_by}"),
        ("Boxes seen", f"{found.seen} of {found.boxes}"),
        ("Who", ", ".join(found.people)),
        ("Water", f"{found.water_ml:g} ml"),
        ("Photos", str(found.photos)),
        ("Came after the end", str(found.late)),
        ("Next round due", due),
    )
    parts = (
        SummaryPart("To be looked at: not taken by the register", tuple(_eggs(each) for each in found.not_taken)),
        SummaryPart("Eggs of which something was said", tuple(_eggs(each) for each in found.eggs)),
        SummaryPart("On watch now", tuple(_eggs(each) for each in found.on_watch)),
        SummaryPart(
            "Boxes to see sooner",
            tuple(_sooner(each, zone) for each in found.sooner),
            tuple(number for number, each in enumerate(found.sooner) if each.stop.venomous),
        ),
        SummaryPart("Left out", tuple(_skipped(each) for each in found.skipped)),
        SummaryPart("Not seen", tuple(_named(each.label, each.name) for each in found.not_seen)),
        SummaryPart("Medium or lid not said", tuple(_named(each.label, each.name) for each in found.half_said)),
        SummaryPart("Treated", tuple(f"{_named(stop.label, stop.name)}: {what}" for stop, what in found.treated)),
    )
    return SummaryView(
        number=found.round.number,
        heading=name,
        facts=tuple((name, value) for name, value in facts if value != "0"),
        parts=tuple(part for part in parts if part.lines),
        note=found.round.note,
        is_ended=one.ended_ms is not None,
    )


def _named(label: str, name: str) -> str:
    return f"{label} ({name})" if label else name


def _eggs(each: EggsOf) -> str:
    names = f" {', '.join(each.names)}" if each.names else ""
    eggs = "egg" if len(each.names) == 1 else "eggs"
    who = f", by {each.who}" if each.who else ""
    refused = f". Not taken: {each.refused}" if each.refused else ""
    return f"{_named(each.stop.label, each.stop.name)}: {eggs}{names} {each.words}{who}{refused}"


def _sooner(each: Sooner, zone: ZoneInfo) -> str:
    day = figures.date_text(figures.local(each.at_ms, zone))
    return f"{_named(each.stop.label, each.stop.name)} by {day}: {'; '.join(each.why)}"


def _skipped(each: Skipped) -> str:
    return f"{_named(each.stop.label, each.stop.name)}: {each.why}, by {each.who}"
