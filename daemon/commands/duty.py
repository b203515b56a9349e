"""`clutchwarden duty list|plan|accept|absent|cancel`: who is on duty when, also beside a running daemon."""

import json
import sqlite3
import time
from collections.abc import Callable
from typing import Annotated, TypeVar

import typer

from config.errors import StatedError
from config.plain import nearest
from daemon import duty_text
from daemon.alarms.hand_over import ASK_AHEAD_MS
from daemon.alarms.hand_over_text import span_text
from daemon.alarms.rota import moment_text
from daemon.commands.moments import moment_ms, until_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.duty_work import DutyWork
from daemon.rota import Rotas
from daemon.storage import duties
from daemon.storage.duties import NewEntry

app = typer.Typer(help="Who is on duty when, who is away, and who has accepted.", no_args_is_help=True)

T = TypeVar("T")
PersonArgument = Annotated[str, typer.Argument(help="Id or name of the person, as in site.toml.")]
FromOption = Annotated[str, typer.Option("--from", help="2026-08-03 or '2026-08-03 09:00'; a day alone: its start.")]
WhyOption = Annotated[str, typer.Option("--why", help="Why; kept with it.")]
_UNTIL = "2026-08-14 or '2026-08-14 09:00'; a day alone: its end."


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@app.command("list")
def list_duties(
    everything: Annotated[bool, typer.Option("--all", help="Also what is over or cancelled.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="For programs; always all of it.")] = False,
    site: SiteOption = HERE,
) -> None:
    """Show who is called now, and the duties and absences that are planned."""
    whole, now_ms = read_site(site), _now_ms()
    with whole.journal() as journal, journal.read() as conn:
        known, entries = _work(whole).known(conn), duties.entries(conn)
    if as_json:
        print(json.dumps(duty_text.as_dict(entries, known, now_ms), indent=2, ensure_ascii=False))
        return
    names = {person.id: person.name for person in whole.site.people}
    lines = duty_text.planned_lines(entries, known, names, whole.zone, now_ms, everything=everything)
    for line in (*duty_text.now_lines(known, names, whole.zone, now_ms), *(lines or ["No duty is planned."])):
        print(line)


@app.command()
def plan(
    person: PersonArgument,
    start: FromOption,
    until: Annotated[str | None, typer.Option(help=_UNTIL, show_default="until somebody else takes over")] = None,
    second: Annotated[str, typer.Option(help="Whom to call next where this person does not answer.")] = "",
    then: Annotated[str, typer.Option(help="Who takes over at the end.")] = "",
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Plan a duty. Calls move when the person accepts it, and not before."""
    whole, now_ms = read_site(site), _now_ms()
    name, other = _person(whole, person), _person(whole, second) if second else ""
    start_ms = moment_ms(start, whole.zone, "--from")
    end_ms = None if until is None else until_ms(until, whole.zone, "--until")
    new = [NewEntry(name, start_ms, end_ms, now_ms, who or login_name(), why, other)]
    if then and end_ms is None:
        raise fail("--then says who takes over at the end: give the end too, with --until.")
    if then and end_ms is not None:
        new.append(NewEntry(_person(whole, then), end_ms, None, now_ms, who or login_name(), why))
    numbers, warnings = _change(whole, lambda conn, work: work.plan(conn, new, now_ms))
    with whole.journal() as journal, journal.read() as conn:
        entered = [each for each in duties.entries(conn).duties if each.number in numbers]
    for each in entered:
        called = next(one.name for one in whole.site.people if one.id == each.duty.person)
        print(f"No. {each.number}: {called} on duty {span_text(each, whole.zone)}, once accepted.")
        asked = max(now_ms, each.duty.start_ms - ASK_AHEAD_MS)
        when = "now" if asked == now_ms else moment_text(asked, whole.zone)
        print(f"  Asked by message {when}; or: clutchwarden duty accept {each.duty.person} --number {each.number}")
        print(f"  See that messages arrive there: clutchwarden contacts test {each.duty.person}")
    for line in duty_text.listed(warnings):
        print(line)


@app.command()
def accept(
    person: PersonArgument,
    number: Annotated[int | None, typer.Option(help="Of the duty.", show_default="the next that waits")] = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Take over a duty as this person: from its begin on, calls come to them first."""
    whole, now_ms = read_site(site), _now_ms()
    name, how = _person(whole, person), f"on this machine, by {who or login_name()}"
    taken = _change(whole, lambda conn, work: work.accept(conn, name, number, how, now_ms))
    called = next(one.name for one in whole.site.people if one.id == name)
    first = "is called first now" if taken.duty.start_ms <= now_ms else "is called first from then on"
    print(f"No. {taken.number}: {called} has accepted the duty {span_text(taken, whole.zone)}, and {first}.")


@app.command()
def absent(
    person: PersonArgument,
    start: FromOption,
    until: Annotated[str, typer.Option(help=_UNTIL)],
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that a person cannot be reached for a while: they are passed over until then."""
    whole, now_ms = read_site(site), _now_ms()
    name = _person(whole, person)
    start_ms, end_ms = moment_ms(start, whole.zone, "--from"), until_ms(until, whole.zone, "--until")
    new = NewEntry(name, start_ms, end_ms, now_ms, who or login_name(), why, is_absence=True)
    [number], warnings = _change(whole, lambda conn, work: work.plan(conn, [new], now_ms))
    called = next(one.name for one in whole.site.people if one.id == name)
    span = f"from {moment_text(start_ms, whole.zone)} to {moment_text(end_ms, whole.zone)}"
    print(f"No. {number}: {called} is away {span}.")
    for line in duty_text.listed(warnings):
        print(line)


@app.command()
def cancel(
    number: Annotated[int, typer.Argument(help="Of the duty or absence, as `duty list` shows it.")],
    why: WhyOption = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Cancel a duty that is not in force, or an absence. It stays on record."""
    whole, now_ms = read_site(site), _now_ms()
    warnings = _change(whole, lambda conn, work: work.cancel(conn, number, who or login_name(), why, now_ms))
    print(f"No. {number} is cancelled.")
    for line in duty_text.listed(warnings):
        print(line)


def _work(whole: SiteFolder) -> DutyWork:
    return DutyWork(whole.site, Rotas(whole.site))


def _change(whole: SiteFolder, act: Callable[[sqlite3.Connection, DutyWork], T]) -> T:
    """All of it or nothing, in one transaction."""
    work = _work(whole)
    try:
        with whole.journal() as journal:
            return journal.write(lambda conn: act(conn, work))
    except StatedError as error:
        raise fail(f"Not done: {error.reason}. {error.hint}") from None


def _person(whole: SiteFolder, wanted: str) -> str:
    """Give the id of a person who is named by id or name."""
    people = whole.site.people
    by_id = [one.id for one in people if one.id == wanted]
    found = by_id or [one.id for one in people if one.name.casefold() == wanted.casefold()]
    if not found:
        raise fail(f"There is no person {wanted!r} in site.toml. {nearest(wanted, (one.id for one in people))}")
    return found[0]
