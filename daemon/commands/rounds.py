"""`clutchwarden round`: rounds through the boxes of incubators, also beside a running daemon."""

import json
from typing import Annotated

import typer

from config.errors import StatedError
from config.plain import nearest
from daemon.alarms.figures import duration_text
from daemon.alarms.round_suppression import Round
from daemon.commands import round_find
from daemon.commands.moments import local_text, span_ms
from daemon.commands.round_site import desk_of, now_ms, work_of
from daemon.commands.round_text import box_lines, summary_lines, walk_lines
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, WhoOption, fail, login_name, read_site
from daemon.rounds.values import Refused
from daemon.rounds.words import not_seen_words
from daemon.storage import rounds
from daemon.storage.rounds import RoundOnRecord

app = typer.Typer(help="Rounds through the boxes of an incubator.", no_args_is_help=True)
app.command()(round_find.find)

IncubatorArgument = Annotated[str, typer.Argument(help="The incubator's id, as in site.toml.")]


@app.command()
def start(
    incubator: Annotated[str, typer.Argument(help="The incubator's id, as in site.toml.", show_default=False)] = "",
    everywhere: Annotated[
        bool, typer.Option("--all", help="Every incubator at once: all of them are held back from now on.")
    ] = False,
    long: Annotated[str, typer.Option("--for", help="How long it will take: 12min, at most 30min.")] = "30min",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that somebody opens an incubator: cold, damp, dry and the open door are not told meanwhile."""
    if bool(incubator) == everywhere:
        raise fail("Name one incubator, or give --all for every one.")
    whole = read_site(site) if everywhere else _site_with(site, incubator)
    stated_ms = span_ms(long, "--for")
    with whole.journal() as journal:
        begun = desk_of(whole, journal).start(who or login_name(), [] if everywhere else [incubator], stated_ms)
    if isinstance(begun, Refused):
        raise fail(f"Not done: {begun.reason}. {begun.hint}")
    for each in begun.rounds:
        until = local_text(each.round.hard_end_ms, whole.zone)
        print(f"Round no. {each.number} in {whole.places.name(each.round.incubator)}, until {until} at the latest.")
    print("Cold, damp, dry, water on a lid and the open door there are not told until then; everything else is.")
    if begun.held:
        print(f"Held back now: {', '.join(begun.held)}.")
    print("What to do: clutchwarden round walk; what was found: clutchwarden round find BOX --help")
    for each in begun.rounds:
        print(f"When it is closed again: clutchwarden round end {each.round.incubator}")


@app.command()
def end(
    incubator: IncubatorArgument,
    note: Annotated[str, typer.Option(help="What was found or done.")] = "",
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say that the incubator is closed again. What is still on after a settle time is told.

    Boxes with a clutch that nobody has seen are named; the round does not count for them.
    """
    whole, at_ms = _site_with(site, incubator), now_ms()
    try:
        with whole.journal() as journal:
            ended, _ = journal.write(
                lambda conn: work_of(whole).end_round(conn, incubator, who or login_name(), note, at_ms)
            )
            summary = desk_of(whole, journal).summary(ended.number)
    except StatedError as error:
        raise _refused(error) from None
    found = ended.round
    lasted = duration_text((found.ended_ms or at_ms) - found.started_ms)
    print(f"Round no. {ended.number} in {whole.places.name(incubator)} is ended after {lasted}.")
    again = local_text(found.told_again_ms, whole.zone)
    if found.in_time:
        print(f"It may settle until {again}; what is still on then is told.")
    else:
        print(f"Its time was over at {again}; everything has been told again since then.")
    if summary is not None and summary.not_seen:
        print(not_seen_words(summary.not_seen))
    print(f"What it came to: clutchwarden round show {ended.number}")


@app.command()
def walk(
    by_need: Annotated[bool, typer.Option("--by-need", help="Those first that need it most.")] = False,
    short: Annotated[bool, typer.Option("--short", help="Only the five that matter most.")] = False,
    site: SiteOption = HERE,
) -> None:
    """List the boxes of the rounds that go on, in the order in which they stand, with what each needs and why."""
    whole = read_site(site)
    with whole.journal() as journal:
        found = desk_of(whole, journal).walk()
    if not found.rounds:
        raise fail("No round goes on. Start one: clutchwarden round start INCUBATOR")
    boxes = found.short if short else found.by_need if by_need else found.boxes
    if short and not boxes:
        print("No box needs anything just now.")
    for line in walk_lines(boxes):
        print(line)
    print(f"{len(found.still_open)} boxes with a clutch are still to be seen.")


@app.command()
def box(
    key: Annotated[str, typer.Argument(help="The box, such as north/top/N1.")],
    site: SiteOption = HERE,
) -> None:
    """Show a box: what the probes say since somebody last looked into it, what was found then, what to look for."""
    whole = read_site(site)
    with whole.journal() as journal:
        view = desk_of(whole, journal).sheet(key)
    if view is None:
        raise fail(f"There is no box {key!r}. {nearest(key, whole.places.boxes)}")
    for line in box_lines(view, whole.zone, whole.fahrenheit):
        print(line)


@app.command()
def show(
    number: Annotated[int | None, typer.Argument(help="The number of the round.", show_default="the newest")] = None,
    site: SiteOption = HERE,
) -> None:
    """Show what a round came to: eggs, boxes to see sooner, what was left out, when the next one is due."""
    whole = read_site(site)
    with whole.journal() as journal:
        desk = desk_of(whole, journal)
        newest = desk.newest(1)
        wanted = newest[0].number if number is None and newest else number
        found = None if wanted is None else desk.summary(wanted)
    if found is None:
        raise fail("No such round on record. See: clutchwarden round list")
    incubator = found.round.round.incubator
    name = whole.places.name(incubator) if whole.places.exists(incubator) else incubator
    for line in summary_lines(found, name, whole.zone):
        print(line)


@app.command("list")
def list_rounds(
    newest: Annotated[int, typer.Option(help="How many rounds.", min=1)] = 20,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """List the rounds, the newest first."""
    whole, at_ms = read_site(site), now_ms()
    with whole.journal() as journal, journal.read() as conn:
        found = rounds.newest(conn, newest)
    if as_json:
        print(json.dumps([_as_dict(each) for each in found], indent=2))
        return
    if not found:
        print("No round on record. Begin one with: clutchwarden round start INCUBATOR")
    for each in found:
        print(_line(each, whole, at_ms))


def _site_with(site: SiteOption, incubator: str) -> SiteFolder:
    whole = read_site(site)
    known = [each.id for each in whole.site.incubators]
    if incubator not in known:
        raise fail(f"There is no incubator {incubator!r} in site.toml. {nearest(incubator, known)}")
    return whole


def _refused(error: StatedError) -> typer.Exit:
    return fail(f"Not done: {error.reason}. {error.hint}")


def _line(found: RoundOnRecord, whole: SiteFolder, at_ms: int) -> str:
    round_ = found.round
    name = next((each.name for each in whole.site.incubators if each.id == round_.incubator), round_.incubator)
    note = f": {found.note}" if found.note else ""
    begun = f"no. {found.number}  {local_text(round_.started_ms, whole.zone)}  {name}, by {round_.who}"
    return f"{begun}, {_how_far(found, at_ms)}{note}"


def _how_far(found: RoundOnRecord, at_ms: int) -> str:
    round_: Round = found.round
    if round_.ended_ms is not None:
        by = "" if found.ended_by == round_.who else f" by {found.ended_by}"
        return f"ended{by} after {duration_text(round_.ended_ms - round_.started_ms)}"
    if at_ms < round_.hard_end_ms:
        return f"goes on, for {duration_text(round_.hard_end_ms - at_ms)} more at most"
    return f"not ended, {duration_text(at_ms - round_.hard_end_ms)} past its end"


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
