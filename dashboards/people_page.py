"""The page of people: who is called now and on the next days, and whether each can be reached. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from daemon.alarms.rota import moment_text, window_text
from daemon.duty_days import DAYS_AHEAD, DutyDay, Stretch
from daemon.people_values import AskedTest, ContactNow, DutyNow, PeopleNow, PersonNow
from dashboards import figures
from dashboards.people_forms import ACCEPT, Actor, cancel_form, people_forms
from dashboards.setup_forms import FormView, Typed
from dashboards.setup_paths import KIND_WORDS, PEOPLE_PATH
from dashboards.standing import Mark, Shape, Tone
from dashboards.view import version_of

_DAY_MS = 86_400_000
_ORDINALS = ("called first", "called second", "called third")
_UNREACHED = Mark(Shape.CAUTION, "cannot be reached: no contact", Tone.HIGH)


@dataclass(frozen=True, slots=True)
class WayView:
    """One way to a person."""

    key: str
    name: str
    mark: Mark
    lines: tuple[str, ...]
    test: tuple[Mark, str] | None


@dataclass(frozen=True, slots=True)
class PersonView:
    """One person."""

    key: str
    name: str
    mark: Mark
    lines: tuple[str, ...]
    ways: tuple[WayView, ...]


@dataclass(frozen=True, slots=True)
class ArrivedView:
    """What a visitor is asked of a test to themselves; `hidden` are the fields of its button."""

    question: str
    hidden: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class EntryView:
    """A duty or an absence ahead. `accept` are the fields of a button that takes over; empty where there is none."""

    key: str
    text: str
    mark: Mark
    why: str
    accept: tuple[tuple[str, str], ...]
    accept_button: str
    cancel: FormView | None


@dataclass(frozen=True, slots=True)
class DayView:
    """One of the next days: its date, and a line for each stretch of it."""

    date: str
    iso: str
    is_today: bool
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PeopleView:
    """The whole page. `arrived`: what is asked of tests to this visitor, by the key of the way."""

    site_name: str
    clock: str
    zone: str
    heading: str
    lines: tuple[str, ...]
    warnings: tuple[str, ...]
    people: tuple[PersonView, ...]
    entries: tuple[EntryView, ...]
    days: tuple[DayView, ...]
    forms: tuple[FormView, ...]
    path: str
    accept: str
    note: str
    said: str = ""
    arrived: Mapping[str, ArrivedView] = field(default_factory=dict)

    @property
    def is_refused(self) -> bool:
        """True where something planned could not be cancelled: what was typed stays on the page."""
        return any(each.cancel is not None and each.cancel.is_open for each in self.entries)

    @property
    def version(self) -> str:
        """Differs wherever something that is live on the page differs, but for buttons: they depend on who looks."""
        entries = [(each.key, each.text, each.mark, each.why) for each in self.entries]
        return version_of((self.clock, self.heading, self.lines, self.warnings, self.people, self.days, entries))


def people_view(found: PeopleNow, actor: Actor, typed: Typed | None = None, said: str = "") -> PeopleView:
    """Turn what is known into the page of this visitor."""
    zone = ZoneInfo(found.time_zone)
    forms = people_forms(found, actor, typed)
    return PeopleView(
        site_name=found.site_name,
        clock=figures.moment_text(figures.local(found.now_ms, zone)),
        zone=found.time_zone,
        heading=_heading(found),
        lines=tuple(_now_lines(found, zone)),
        warnings=tuple(_warnings(found, zone)),
        people=tuple(_person(each, found, zone) for each in found.people),
        entries=tuple(_entry(each, zone, actor, typed) for each in found.entries),
        days=tuple(_day(each, number == 0, zone) for number, each in enumerate(found.days)),
        forms=forms,
        path=PEOPLE_PATH,
        accept=ACCEPT,
        note=_note(forms, actor),
        said=said,
        arrived=_arrived(found, actor, zone),
    )


def _arrived(found: PeopleNow, actor: Actor, zone: ZoneInfo) -> dict[str, ArrivedView]:
    """Ask of each newest test to this visitor; of those to others only they can tell."""
    asked = {}
    for way in (way for each in found.people if each.person == actor.person for way in each.contacts):
        if way.open_test is not None:
            sent = figures.clock_text(figures.local(way.open_test.sent_ms, zone), figures.local(found.now_ms, zone))
            hidden = (("contact", way.contact), ("message", way.open_test.message_id))
            asked[way.contact] = ArrivedView(f"Does your phone show the test of {sent}? Press when it does.", hidden)
    return asked


def _heading(found: PeopleNow) -> str:
    if not found.order:
        return "Nobody can be called"
    return f"Called first now: {found.name(found.order[0])}"


def _note(forms: tuple[FormView, ...], actor: Actor) -> str:
    if forms and not actor.acts_for:
        return f"Your account, {actor.who}, is no person of this site: who is away is for them or a keeper to say."
    return "" if forms else "Responders and keepers plan duties and send tests here."


def _now_lines(found: PeopleNow, zone: ZoneInfo) -> Iterator[str]:
    if len(found.order) > 1:
        yield f"Then {', then '.join(map(found.name, found.order[1:]))}."
    yield f"Why: {found.reason}."
    emergency = [each.name for each in found.people if each.emergency and each.contacts]
    if emergency:
        yield f"Where nobody answers a critical alarm: {', '.join(emergency)}."
    if found.quiet is not None:
        start, end = found.quiet
        until = "" if found.quiet_until_ms is None else f" Now, until {moment_text(found.quiet_until_ms, zone)}."
        yield f"Quiet hours {start:%H:%M} to {end:%H:%M}: alarms of the lowest priority wait.{until}"


def _warnings(found: PeopleNow, zone: ZoneInfo) -> Iterator[str]:
    if not any(each.contacts for each in found.people):
        yield "No person has a contact, so no alert reaches anybody. A keeper adds people under Set-up."
    for window in found.thin:
        always = window.start_ms <= found.now_ms and window.end_ms >= found.now_ms + DAYS_AHEAD * _DAY_MS
        when = f"in the next {DAYS_AHEAD} days" if always else window_text(window, zone)
        if window.reachable == 0:
            yield f"Nobody can be reached {when}: {window.reason}."
        else:
            yield f"Only one person can be reached {when} ({window.reason}). Where they do not answer, nobody follows."


def _person(person: PersonNow, found: PeopleNow, zone: ZoneInfo) -> PersonView:
    lines = ["For emergencies only: when nobody answers a critical alarm."] if person.emergency else []
    if person.away_until_ms is not None:
        lines.append(f"Away until {moment_text(person.away_until_ms, zone)}.")
    return PersonView(
        key=f"person-{person.person}",
        name=person.name,
        mark=_person_mark(person),
        lines=tuple(lines),
        ways=tuple(_way(each, person, found, zone) for each in person.contacts),
    )


def _person_mark(person: PersonNow) -> Mark:
    if not person.contacts:
        return _UNREACHED
    if all(each.gone for each in person.contacts):
        return Mark(Shape.FAULT, "cannot be reached: every address is dead", Tone.HIGH)
    if person.away_until_ms is not None:
        return Mark(Shape.GAP, "away", Tone.UNKNOWN)
    if person.place is None:
        return Mark(Shape.RING, "not called at present", Tone.PLAIN)
    place = person.place
    word = _ORDINALS[place] if place < len(_ORDINALS) else f"called as no. {place + 1}"
    return Mark(Shape.EGG, word, Tone.WELL)


def _way(way: ContactNow, person: PersonNow, found: PeopleNow, zone: ZoneInfo) -> WayView:
    which = f"Contact {way.number}: " if len(person.contacts) > 1 else ""
    kind = f"{KIND_WORDS.get(way.kind, way.kind)}{', signed' if way.signed else ''}"
    lines = [_confirmed(way, found, zone)]
    if way.failing_since_ms is not None:
        gone = " Its receiver says that the address is not in use any more." if way.gone else ""
        lines.append(f"Nothing has arrived since {moment_text(way.failing_since_ms, zone)}: {way.error}.{gone}")
    test = None if way.asked is None else _asked(way.asked, found, zone)
    name = f"{which}{kind}"
    return WayView(way.contact, f"{name[:1].upper()}{name[1:]}", _way_mark(way), tuple(lines), test)


def _way_mark(way: ContactNow) -> Mark:
    if way.gone:
        return Mark(Shape.FAULT, "address is dead", Tone.HIGH)
    if way.failing_since_ms is not None:
        return Mark(Shape.CAUTION, "last message did not arrive", Tone.HIGH)
    if way.confirmed_ms is None:
        return Mark(Shape.GAP, "never confirmed", Tone.UNKNOWN)
    return Mark(Shape.EGG, "works", Tone.WELL)


def _confirmed(way: ContactNow, found: PeopleNow, zone: ZoneInfo) -> str:
    told = "" if found.tests_weekly else " The weekly test is switched off."
    if way.confirmed_ms is None:
        return f"Nobody has ever said that a test arrived this way.{told}"
    when = moment_text(way.confirmed_ms, zone)
    text = f"Last confirmed {when} ({figures.age(found.now_ms, way.confirmed_ms)})."
    if way.tested_ms is not None and way.tested_ms > way.confirmed_ms:
        text += f" The weekly test of {moment_text(way.tested_ms, zone)} is not confirmed."
    return f"{text}{told}"


def _asked(test: AskedTest, found: PeopleNow, zone: ZoneInfo) -> tuple[Mark, str]:
    """What became of a test that somebody asked for."""
    sent = f"Test of {figures.clock_text(figures.local(test.sent_ms, zone), figures.local(found.now_ms, zone))}"
    if test.confirmed_ms is not None:
        at = figures.clock_text(figures.local(test.confirmed_ms, zone), figures.local(found.now_ms, zone))
        return Mark(Shape.EGG, "arrived", Tone.WELL), f"{sent}: it arrived, as somebody said at {at}."
    if test.state == "delivered":
        asks = (
            " Open the link in it and press, and it shows here that it arrived."
            if found.has_links
            else " Look whether the phone shows it: only you can see that."
        )
        return Mark(Shape.RING, "accepted", Tone.PLAIN), f"{sent}: its receiver accepted it.{asks}"
    if test.state == "waiting" and not test.attempts:
        return Mark(Shape.GAP, "on its way", Tone.UNKNOWN), f"{sent}: it is being sent."
    told = f"{sent}: not accepted: {test.error}."
    if test.state == "waiting" and test.next_attempt_ms is not None:
        told += f" Tried again {moment_text(test.next_attempt_ms, zone)}."
    return Mark(Shape.CAUTION, "not accepted", Tone.HIGH), told


def _entry(entry: DutyNow, zone: ZoneInfo, actor: Actor, typed: Typed | None) -> EntryView:
    end = "on" if entry.end_ms is None else f"to {moment_text(entry.end_ms, zone)}"
    what = "away" if entry.is_absence else f"{f', then {entry.second},' if entry.second else ''} on duty".lstrip()
    text = f"{entry.name}{'' if what.startswith(',') else ' '}{what} from {moment_text(entry.start_ms, zone)} {end}"
    takes_over = entry.waits and entry.person in actor.acts_for
    return EntryView(
        key=f"entry-{entry.number}",
        text=text,
        mark=_entry_mark(entry),
        why=entry.why,
        accept=(("number", str(entry.number)),) if takes_over else (),
        accept_button="I take over" if entry.person == actor.person else f"{entry.name} takes over",
        cancel=cancel_form(entry, typed) if actor.may_respond else None,
    )


def _entry_mark(entry: DutyNow) -> Mark:
    if entry.waits:
        return Mark(Shape.CAUTION, "not accepted yet", Tone.HIGH)
    if entry.state in ("in force", "now"):
        return Mark(Shape.EGG, entry.state, Tone.WELL)
    return Mark(Shape.RING, entry.state, Tone.PLAIN)


def _day(day: DutyDay, is_today: bool, zone: ZoneInfo) -> DayView:
    date = f"{day.day:%a} {day.day.day}{figures.NBSP}{day.day:%b}"
    whole = len(day.stretches) == 1
    lines = tuple(_stretch(each, whole=whole, zone=zone) for each in day.stretches)
    return DayView("Today" if is_today else date, day.day.isoformat(), is_today, lines)


def _stretch(each: Stretch, *, whole: bool, zone: ZoneInfo) -> str:
    start, end = (figures.local(moment, zone) for moment in (each.start_ms, each.end_ms))
    span = "" if whole else f"{start:%H:%M} to {'24:00' if end.date() != start.date() else f'{end:%H:%M}'}: "
    called = each.first or "nobody"
    second = f", then {each.second}" if each.second else ""
    planned = f"; {each.planned} planned, not accepted" if each.planned else ""
    away = f"; away: {', '.join(each.away)}" if each.away else ""
    return f"{span}{called}{second}{planned}{away}"
