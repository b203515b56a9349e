"""`clutchwarden round start|end|list`: a round through the boxes of one incubator, also beside a running daemon."""

import json
import time
from typing import Annotated

import typer

from config.errors import StatedError
from config.plain import nearest
from daemon.alarms.figures import duration_text
from daemon.alarms.round_suppression import Round
from daemon.commands.moments import local_text, span_ms
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.desk_work import DeskWork
from daemon.storage import rounds
from daemon.storage.rounds import RoundOnRecord

app = typer.Typer(help="Rounds through the boxes of an incubator.", no_args_is_help=True)

IncubatorArgument = Annotated[str, typer.Argument(help="The incubator's id, as in site.toml.")]


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@app.command()
def start(
    incubator: IncubatorArgument,
    long: Annotated[str, typer.Option("--for", help="How long it will take: 12min, at most 30min.")] = "30min",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that somebody opens an incubator: cold, damp, dry and the open door are not told meanwhile."""
    whole = _site_with(site, incubator)
    now_ms, stated_ms = _now_ms(), span_ms(long, "--for")
    try:
        with whole.journal() as journal:
            started, held = journal.write(
                lambda conn: _work(whole).start_round(conn, incubator, who or login_name(), stated_ms, now_ms)
            )
    except StatedError as error:
        raise _refused(error) from None
    until = local_text(started.round.hard_end_ms, whole.zone)
    print(f"Round no. {started.number} in {whole.places.name(incubator)}, until {until} at the latest.")
    print("Cold, damp, dry, water on a lid and the open door there are not told until then; everything else is.")
    if held:
        print(f"Held back now: {', '.join(held)}.")
    print(f"When it is closed again: clutchwarden round end {incubator}")


@app.command()
def end(
    incubator: IncubatorArgument,
    note: Annotated[str, typer.Option(help="What was found or done.")] = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that the incubator is closed again. What is still on after a settle time is told."""
    whole, now_ms = _site_with(site, incubator), _now_ms()
    try:
        with whole.journal() as journal:
            ended, _ = journal.write(
                lambda conn: _work(whole).end_round(conn, incubator, who or login_name(), note, now_ms)
            )
    except StatedError as error:
        raise _refused(error) from None
    found = ended.round
    lasted = duration_text((found.ended_ms or now_ms) - found.started_ms)
    print(f"Round no. {ended.number} in {whole.places.name(incubator)} is ended after {lasted}.")
    again = local_text(found.told_again_ms, whole.zone)
    if found.in_time:
        print(f"It may settle until {again}; what is still on then is told.")
    else:
        print(f"Its time was over at {again}; everything has been told again since then.")


@app.command("list")
def list_rounds(
    newest: Annotated[int, typer.Option(help="How many rounds.", min=1)] = 20,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """List the rounds, the newest first."""
    whole, now_ms = read_site(site), _now_ms()
    with whole.journal() as journal, journal.read() as conn:
        found = rounds.newest(conn, newest)
    if as_json:
        print(json.dumps([_as_dict(each) for each in found], indent=2))
        return
    if not found:
        print("No round on record. Begin one with: clutchwarden round start INCUBATOR")
    for each in found:
        print(_line(each, whole, now_ms))


def _site_with(site: SiteOption, incubator: str) -> SiteFolder:
    whole = read_site(site)
    known = [each.id for each in whole.site.incubators]
    if incubator not in known:
        raise fail(f"There is no incubator {incubator!r} in site.toml. {nearest(incubator, known)}")
    return whole


def _work(whole: SiteFolder) -> DeskWork:
    return DeskWork(whole.site, whole.profiles, public_url=whole.settings.web.public_url)


def _refused(error: StatedError) -> typer.Exit:
    return fail(f"Not done: {error.reason}. {error.hint}")


def _line(found: RoundOnRecord, whole: SiteFolder, now_ms: int) -> str:
    round_ = found.round
    name = next((each.name for each in whole.site.incubators if each.id == round_.incubator), round_.incubator)
    note = f": {found.note}" if found.note else ""
    begun = f"no. {found.number}  {local_text(round_.started_ms, whole.zone)}  {name}, by {round_.who}"
    return f"{begun}, {_how_far(found, now_ms)}{note}"


def _how_far(found: RoundOnRecord, now_ms: int) -> str:
    round_: Round = found.round
    if round_.ended_ms is not None:
        by = "" if found.ended_by == round_.who else f" by {found.ended_by}"
        return f"ended{by} after {duration_text(round_.ended_ms - round_.started_ms)}"
    if now_ms < round_.hard_end_ms:
        return f"goes on, for {duration_text(round_.hard_end_ms - now_ms)} more at most"
    return f"not ended, {duration_text(now_ms - round_.hard_end_ms)} past its end"


def _as_dict(found: RoundOnRecord) -> dict[str, object]:
    round_ = found.round
    return {
        "round": found.number,
        "incubator": round_.incubator,
        "who": round_.who,
        "started_ms": round_.started_ms,
        "stated_ms": round_.stated_ms,
        "settle_ms": round_.settle_ms,
        "ended_ms": round_.ended_ms,
        "ended_by": found.ended_by,
        "note": found.note,
    }
