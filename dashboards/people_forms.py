"""The forms of people and rota: which there are for a visitor, and what was typed. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from daemon.access.values import Role, Visitor
from daemon.people_values import DutyNow, PeopleNow
from daemon.storage.duties import NewEntry
from dashboards import figures
from dashboards.setup_forms import Field, FormView, Read, Typed, filled, moment_value
from dashboards.setup_paths import KIND_WORDS, PEOPLE_PATH

TEST, AWAY, PLAN, ACCEPT, CANCEL = "test", "away", "plan", "accept", "cancel"
ARRIVED = "arrived"
SURE = "sure"
_YEAR_MS = 365.25 * 86_400_000
ASKED_BEYOND_MS = 366 * 86_400_000
"""A duty or an absence that lasts longer is asked about. Project choice."""


@dataclass(frozen=True, slots=True)
class Actor:
    """Who looks at the page. `acts_for`: the people, by id, whom they may mark as away and accept for."""

    who: str
    may_respond: bool
    acts_for: tuple[str, ...]
    person: str = ""


def actor_of(visitor: Visitor | None, found: PeopleNow) -> Actor:
    """Tell what a visitor may do: a keeper for everybody, a responder for themselves and nobody else.

    Calls move by an absence and by an acceptance, so whoever they are about has to be the one who says so.
    """
    if visitor is None or not visitor.role.may(Role.RESPONDER):
        return Actor("", may_respond=False, acts_for=())
    everybody = tuple(each.person for each in found.people)
    own = tuple(each for each in everybody if each == visitor.who)
    acts_for = everybody if visitor.role.may(Role.KEEPER) else own
    return Actor(visitor.who, may_respond=True, acts_for=acts_for, person=own[0] if own else "")


def people_forms(found: PeopleNow, actor: Actor, typed: Typed | None = None) -> tuple[FormView, ...]:
    """Give the forms of a visitor, the one that was refused filled in as it was sent."""
    reached = any(each.contacts for each in found.people)
    if not actor.may_respond or not reached:
        return ()
    forms = [_test(found, actor)]
    if _choices(found, actor.acts_for):
        forms.append(_away(found, actor))
    forms.append(_plan(found))
    return tuple(filled(_with_question(form, typed), typed) for form in forms)


def cancel_form(entry: DutyNow, typed: Typed | None = None) -> FormView:
    """Give the form that takes out what was planned."""
    what = "absence" if entry.is_absence else "duty"
    form = FormView(
        f"{CANCEL}-{entry.number}",
        PEOPLE_PATH,
        f"Cancel this {what}",
        "Cancel it",
        "It stays on record. Whoever was asked to take over is told.",
        (Field("why", "Why?", hint="May stay empty."),),
        hidden=(("number", str(entry.number)),),
    )
    return filled(form, typed)


def read_away(fields: Mapping[str, str], found: PeopleNow, actor: Actor) -> NewEntry | Typed:
    """Read an absence, or what is wrong with it."""
    read, zone = Read(fields), ZoneInfo(found.time_zone)
    person = read.choice("person", _choices(found, actor.acts_for), "Say who is away.")
    start_ms = read.moment("from", zone, "Say from when.")
    end_ms = read.moment("until", zone, "Say until when; a date alone is the end of that day.", is_end=True)
    why = read.text("why")
    _ask_of_years(read, start_ms, end_ms, zone, "absence")
    if read.errors or start_ms is None or end_ms is None:
        return Typed(AWAY, fields, read.errors)
    return NewEntry(person, start_ms, end_ms, found.now_ms, actor.who, why, is_absence=True)


def read_plan(fields: Mapping[str, str], found: PeopleNow, actor: Actor) -> list[NewEntry] | Typed:
    """Read a duty and who takes over after it, or what is wrong with it."""
    read, zone = Read(fields), ZoneInfo(found.time_zone)
    anybody = _choices(found)
    person = read.choice("person", anybody, "Say who is to be on duty.")
    start_ms = read.moment("from", zone, "Say from when.")
    end_ms = read.moment("until", zone, is_end=True)
    second, then, why = read.choice("second", anybody), read.choice("then", anybody), read.text("why")
    if then and end_ms is None:
        read.wrong("until", "Who takes over at the end is chosen below: give the end too.")
    _ask_of_years(read, start_ms, end_ms, zone, "duty")
    if read.errors or start_ms is None:
        return Typed(PLAN, fields, read.errors)
    planned = [NewEntry(person, start_ms, end_ms, found.now_ms, actor.who, why, second)]
    if then and end_ms is not None:
        planned.append(NewEntry(then, end_ms, None, found.now_ms, actor.who, why))
    return planned


def _ask_of_years(read: Read, start_ms: int | None, end_ms: int | None, zone: ZoneInfo, what: str) -> None:
    """Ask whether something of more than a year is meant: 2099 is mostly a slip of the thumb."""
    if start_ms is None or end_ms is None or end_ms - start_ms <= ASKED_BEYOND_MS or read.ticked(SURE):
        return
    years = (end_ms - start_ms) / _YEAR_MS
    until = figures.full_date_text(figures.local(end_ms, zone))
    read.wrong(SURE, f"This {what} lasts {years:.1f} years, until {until}. Correct the dates, or tick this if it does.")


def _with_question(form: FormView, typed: Typed | None) -> FormView:
    """Add the question of a form that was asked; nobody else has to read it."""
    if typed is None or typed.wanted != form.wanted or SURE not in {*typed.errors, *typed.fields}:
        return form
    return replace(form, fields=(*form.fields, Field(SURE, "Yes, it lasts longer than a year", "check")))


def read_number(fields: Mapping[str, str], found: PeopleNow) -> DutyNow | None:
    """Give what is planned under the number that was sent; None where it is over, or never was."""
    text = fields.get("number", "")
    return next((each for each in found.entries if str(each.number) == text), None)


def _test(found: PeopleNow, actor: Actor) -> FormView:
    return FormView(
        TEST,
        PEOPLE_PATH,
        "Send me a test",
        "Send a test",
        "A message whose first word is TEST. What its receiver answers is shown above, without loading the page again.",
        (Field("to", "To whom?", "select", actor.person, options=ways_to_test(found), required=True),),
        is_open=True,
    )


def ways_to_test(found: PeopleNow) -> tuple[tuple[str, str], ...]:
    """Give whom a test can go to: each person, and each single way where somebody has several."""
    options = []
    for person in found.people:
        if person.contacts:
            every = ", every way" if len(person.contacts) > 1 else ""
            options.append((person.person, f"{person.name}{every}"))
        if len(person.contacts) > 1:
            ways = (
                (way.contact, f"{person.name}, contact {way.number} ({KIND_WORDS.get(way.kind, way.kind)})")
                for way in person.contacts
            )
            options += list(ways)
    return tuple(options)


def _away(found: PeopleNow, actor: Actor) -> FormView:
    zone = ZoneInfo(found.time_zone)
    choices = _choices(found, actor.acts_for)
    return FormView(
        AWAY,
        PEOPLE_PATH,
        "I am away",
        "I am away",
        "Whoever is away is passed over until then. It is refused where nobody would be left to call.",
        (
            Field("person", "Who?", "select", actor.person, options=choices, required=True),
            Field("from", f"From ({found.time_zone})", "moment", moment_value(found.now_ms, zone), required=True),
            Field("until", "Until", "moment", required=True),
            Field("why", "Why?", hint="May stay empty; others read it."),
        ),
    )


def _plan(found: PeopleNow) -> FormView:
    zone = ZoneInfo(found.time_zone)
    anybody, nobody = _choices(found), (("", "Nobody"),)
    return FormView(
        PLAN,
        PEOPLE_PATH,
        "Plan a duty, or hand over",
        "Plan it",
        "The person is asked by message. Calls move when they accept it, and not before.",
        (
            Field("person", "Who is to be called first?", "select", options=(("", "Choose"), *anybody), required=True),
            Field("from", f"From ({found.time_zone})", "moment", moment_value(found.now_ms, zone), required=True),
            Field("until", "Until", "moment", hint="Empty: until somebody else takes over."),
            Field("second", "Who is called next?", "select", options=nobody + anybody),
            Field("then", "Who takes over at the end?", "select", options=nobody + anybody),
            Field("why", "Why?", hint="May stay empty."),
        ),
    )


def _choices(found: PeopleNow, among: tuple[str, ...] | None = None) -> tuple[tuple[str, str], ...]:
    """Give the people who can be called."""
    return tuple(
        (each.person, each.name) for each in found.people if each.contacts and (among is None or each.person in among)
    )
