"""`clutchwarden alarms`: the alarm desk by command: what is on, and what people do about it."""

import json
import time
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Annotated

import typer

from config.plain import nearest
from daemon.alarm_desk import Desk
from daemon.alarm_desk_values import Entry
from daemon.alarm_measures import WINDOW_DAYS, metrics_of, window_from
from daemon.alarms.events import Event, Reset, ReturnToService, Shelve, Unshelve
from daemon.alarms.wrong import WRONG
from daemon.commands.alarms_text import journal_lines, metrics_lines, standing
from daemon.commands.moments import moment_ms, span_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.desk_work import DeskWork, Done
from daemon.storage import alarm_records, runs

app = typer.Typer(help="Alarms: what is on, and what people do about it.", no_args_is_help=True)

AlarmArgument = Annotated[list[str], typer.Argument(help="The alarm's name, as `alarms list` shows it.")]
JsonOption = Annotated[bool, typer.Option("--json", help="For programs.")]


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@app.command("list")
def list_alarms(as_json: JsonOption = False, site: SiteOption = HERE) -> None:
    """Show every alarm that is not normal, and for how long a silenced one stays silenced."""
    whole = read_site(site)
    now_ms = _now_ms()
    with whole.journal() as journal, journal.read() as conn:
        desk = DeskWork(whole.site, whole.profiles).read(conn)
    if as_json:
        print(json.dumps([_as_dict(whole, key, entry) for key, entry in desk.entries.items()], indent=2))
        return
    if not desk.entries:
        print("No alarm is on, and none waits for anybody.")
    for key, entry in sorted(desk.entries.items(), key=lambda each: (each[1].alarm.priority, each[0])):
        print(f"{key}")
        for line in standing(entry, _where(whole, entry), whole.zone, now_ms):
            print(f"  {line}")


@app.command("ack", hidden=True)
@app.command()
def acknowledge(
    alarms: AlarmArgument,
    note: Annotated[str, typer.Option(help="What was found or done there.")] = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that somebody has seen an alarm and sees to it. Calls stop, for all that was called for with it."""
    whole, work, now_ms = *_work(site), _now_ms()
    with whole.journal() as journal:
        _require(whole, work, alarms)
        done = journal.write(lambda conn: work.acknowledge(conn, alarms, who or login_name(), note, now_ms))
    _say(done)


@app.command()
def shelve(
    alarms: AlarmArgument,
    why: Annotated[str, typer.Option("--why", help="Why; kept with it.")],
    long: Annotated[str, typer.Option("--for", help="How long: 20min, 2h. Each priority has a longest time.")] = "1h",
    once: Annotated[bool, typer.Option("--once", help="Only until it is next back in range.")] = False,
    second: Annotated[str, typer.Option(help="A second person who agrees, where one is needed.")] = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Do not tell an alarm for a while. Lethal limits cannot be shelved."""
    until_ms = _now_ms() + span_ms(long, "--for")
    _do(site, alarms, Shelve(who or login_name(), why, until_ms, once, second))


@app.command()
def unshelve(alarms: AlarmArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """End a shelf: what is still on is told at once."""
    _do(site, alarms, Unshelve(who or login_name()))


@app.command("out-of-service")
def out_of_service(
    alarms: AlarmArgument,
    why: Annotated[str, typer.Option("--why", help="Why; kept with it.")],
    meanwhile: Annotated[str, typer.Option("--meanwhile", help="What or who watches the eggs meanwhile.")],
    until: Annotated[
        str,
        typer.Option(
            "--until",
            help="When it is looked at again: 2026-05-03 or '2026-05-03 14:30'; with eggs, within a day.",
        ),
    ],
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Do not tell an alarm until it is mended, with a date at which that is reviewed. Self-alarms stay in service."""
    whole, work = _work(site)
    now_ms, review_ms = _now_ms(), moment_ms(until, whole.zone, "--until")
    name = who or login_name()
    with whole.journal() as opened:
        _require(whole, work, alarms)
        done = opened.write(
            lambda conn: work.remove_from_service(conn, alarms, name, why, meanwhile, review_ms, now_ms)
        )
    _say(done)


@app.command("in-service")
def in_service(
    alarms: AlarmArgument,
    tested: Annotated[str, typer.Option("--tested", help="How it was seen to work; kept with it.")],
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Put an alarm back into service once it was seen to work: what is still on is told at once."""
    _do(site, alarms, ReturnToService(who or login_name(), tested))


@app.command()
def reset(alarms: AlarmArgument, who: WhoOption = "", site: SiteOption = HERE) -> None:
    """Release an alarm that is over and is held because somebody has to look: lethal limits and lost mains."""
    _do(site, alarms, Reset(who or login_name()))


@app.command()
def journal(
    newest: Annotated[int, typer.Option(help="How many steps.", min=1)] = 50,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Show what happened to alarms, and who did what and why; the oldest of these first."""
    whole = read_site(site)
    with whole.journal() as opened, opened.read() as conn:
        records = alarm_records.newest(conn, newest)[::-1]
    if as_json:
        print(json.dumps([each._asdict() for each in records], indent=2))
        return
    for line in journal_lines(records, whole.zone) or ["Nothing has happened to any alarm yet."]:
        print(line)


@app.command()
def metrics(
    days: Annotated[int, typer.Option(help="Over how many days up to now.", min=1)] = WINDOW_DAYS,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Show how well the alarms do their work; "too little data" where that is so."""
    whole, now_ms = read_site(site), _now_ms()
    with whole.journal() as opened, opened.read() as conn:
        from_ms = window_from(days, runs.first_start_ms(conn), now_ms)
        # Steps from before the window say what was on at its beginning.
        records = [*alarm_records.leading_up_to(conn, from_ms), *alarm_records.between(conn, from_ms, now_ms)]
        found = metrics_of(records, from_ms, now_ms, whole.zone)
    if as_json:
        print(json.dumps(asdict(found), indent=2, default=str))
        return
    for line in metrics_lines(found):
        print(line)


def _work(site: SiteOption) -> tuple[SiteFolder, DeskWork]:
    whole = read_site(site)
    return whole, DeskWork(whole.site, whole.profiles, public_url=whole.settings.web.public_url)


def _do(site: SiteOption, alarms: Sequence[str], event: Event) -> None:
    whole, work = _work(site)
    with whole.journal() as opened:
        _require(whole, work, alarms)
        done = opened.write(lambda conn: work.do(conn, dict.fromkeys(alarms, event), _now_ms()))
    _say(done)


def _require(whole: SiteFolder, work: DeskWork, alarms: Iterable[str]) -> None:
    """Refuse a name that no alarm has, with the nearest one that has."""
    with whole.journal() as opened, opened.read() as conn:
        desk: Desk = work.read(conn)
    for name in alarms:
        if name not in desk.entries:
            known = list(desk.entries)
            hint = nearest(name, known) if known else "No alarm is on, and none waits for anybody."
            raise fail(f"There is no alarm {name!r} at present. {hint}")


def _say(done: Sequence[Done]) -> None:
    for each in done:
        print(f"{each.key}: {'' if each.accepted else 'not done: '}{each.reason}.")
    if not all(each.accepted for each in done):
        raise typer.Exit(2)


def _as_dict(whole: SiteFolder, key: str, entry: Entry) -> dict[str, object]:
    state, raised = entry.state, entry.raised
    return {
        "alarm": key,
        "priority": int(entry.alarm.priority),
        "state": state.shown,
        "condition": state.condition,
        "place": raised.place,
        "place_name": _where(whole, entry),
        "about": raised.about,
        "what": WRONG[raised.kind],
        "since_ms": state.since_ms,
        "value": raised.value,
        "limit": raised.limit,
        "acknowledged_by": state.acknowledged_by,
        "shelved_until_ms": None if state.shelf is None else state.shelf.until_ms,
        "held_back_by": [each.mode for each in state.design if not each.spent],
        "out_of_service_until_ms": None if state.out is None else state.out.review_ms,
    }


def _where(whole: SiteFolder, entry: Entry) -> str:
    return whole.places.name(entry.raised.place) if entry.raised.place else whole.site.name
