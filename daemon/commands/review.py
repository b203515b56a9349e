"""`clutchwarden review`: what happened, what it did to places and clutches, and what the keeper says of it."""

import json
import time
from pathlib import Path
from typing import Annotated

import typer

from config.errors import StatedError
from daemon.chart_reader import ChartReader
from daemon.commands.moments import moment_ms, until_ms
from daemon.commands.review_list import list_lines
from daemon.commands.site_folder import HERE, SiteFolder, SiteOption, fail, login_name, read_site
from daemon.review.account import Review
from daemon.review.account_dict import incident_dict, review_dict
from daemon.review.account_text import account_text
from daemon.review_desk import ReviewDesk
from daemon.review_incidents import NOTE_FIELDS, IncidentDesk, UnknownIncidentError
from daemon.storage.journal import Journal

app = typer.Typer(help="What happened in an outage, and what it did to places and clutches.")
NO_INCIDENT = (
    "No incident is on record: the service finds them by itself while it runs. Any period can be reviewed with "
    "--since '2026-05-14 00:00' --until '2026-05-14 08:00'."
)


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


@app.callback(invoke_without_command=True)
def review(
    context: typer.Context,
    list_: Annotated[bool, typer.Option("--list", help="List the incidents, the newest first.")] = False,
    incident: Annotated[int | None, typer.Option(help="The number of an incident.", show_default="the newest")] = None,
    since: Annotated[str, typer.Option(help="A period of your own: 2026-05-14 or '2026-05-14 02:00'.")] = "",
    until: Annotated[str, typer.Option(help="Its end; a day alone: its end.", show_default="now")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    html: Annotated[Path | None, typer.Option(help="Write the printable sheet to this file.")] = None,
    site: SiteOption = HERE,
) -> None:
    """Tell what happened in the newest incident, in one of a number, or in a period."""
    if context.invoked_subcommand is not None:
        return
    _refuse_mixed(list_, incident, since, until)
    whole = read_site(site)
    if list_:
        _list(whole, as_json=as_json)
        return
    with whole.journal() as journal:
        found = _found(whole, journal, incident, since, until)
        if found is None:
            print("null" if as_json else NO_INCIDENT)
        elif html is not None:
            _write(html, whole, journal, found)
        else:
            print(json.dumps(review_dict(found), indent=2, ensure_ascii=False) if as_json else account_text(found))


@app.command()
def note(
    number: Annotated[int, typer.Argument(help="The number of the incident, as `review --list` shows it.")],
    cause: Annotated[str, typer.Option(help="What it was, as somebody found it.")] = "",
    action: Annotated[str, typer.Option(help="What was done.")] = "",
    outcome: Annotated[str, typer.Option(help="What came of it; with this the review is done.")] = "",
    prevention: Annotated[str, typer.Option(help="What prevents it next time.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who says so; kept with it.", show_default="your login")] = "",
    site: SiteOption = HERE,
) -> None:
    """Write down what the keeper says of an incident. What was written before stays readable."""
    said = dict(zip(NOTE_FIELDS, (cause, action, outcome, prevention), strict=True))
    said = {field: text for field, text in said.items() if text}
    if not said:
        raise fail("Nothing is to be written: give --cause, --action, --outcome or --prevention.")
    whole = read_site(site)
    with whole.journal() as journal:
        desk = IncidentDesk(journal, _now_ms)
        try:
            for field, text in said.items():
                found = desk.note(number, by or login_name(), field, text)
        except UnknownIncidentError:
            raise fail(_unknown(_desk(whole, journal), number)) from None
        except StatedError as error:
            raise fail(_sentence(error)) from None
    left = [field for field in NOTE_FIELDS if not found.said(field)]
    print(f"Written to incident {found.incident.incident_id}: {', '.join(said)}.")
    print(f"Not written yet: {', '.join(left)}." if left else "All four parts are written.")


def _refuse_mixed(list_: bool, incident: int | None, since: str, until: str) -> None:
    ways = sum((list_, incident is not None, bool(since or until)))
    if ways > 1:
        raise fail("Give one of --list, --incident, or --since with --until.")
    if until and not since:
        raise fail("--until needs --since: when does the period begin?")


def _found(whole: SiteFolder, journal: Journal, incident: int | None, since: str, until: str) -> Review | None:
    desk = _desk(whole, journal)
    try:
        if incident is not None:
            return desk.review_of(incident)
        if not since:
            return desk.newest()
        end_ms = until_ms(until, whole.zone, "--until") if until else _now_ms()
        return desk.review(moment_ms(since, whole.zone, "--since"), end_ms)
    except UnknownIncidentError as error:
        raise fail(_unknown(desk, error.number)) from None
    except StatedError as error:
        raise fail(_sentence(error)) from None


def _desk(whole: SiteFolder, journal: Journal) -> ReviewDesk:
    return ReviewDesk(journal, whole.site, whole.profiles, whole.settings.heat.longest_bridge_s, _now_ms)


def _write(file: Path, whole: SiteFolder, journal: Journal, found: Review) -> None:
    # The sheet is that of the pages; nothing else of them is started here.
    from dashboards.review_print import html_of, measured_of

    reader = ChartReader(journal, whole.site, whole.settings.heat.longest_bridge_s, _now_ms)
    sheet = html_of(found, measured_of(reader, found), login_name())
    try:
        file.write_text(sheet, encoding="utf-8")
    except OSError as error:
        raise fail(f"{file} cannot be written: {(error.strerror or str(error)).lower()}.") from None
    print(f"Written to {file}. Open it in a browser to print it, or to save it as PDF.")


def _list(whole: SiteFolder, *, as_json: bool) -> None:
    with whole.journal() as journal:
        desk = IncidentDesk(journal, _now_ms)
        found, waiting = desk.newest(), {each.incident_id for each in desk.open_reviews()}
    if as_json:
        told = [{**incident_dict(each), "waits_for_review": each.incident_id in waiting} for each in found]
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return
    for line in list_lines(found, waiting, whole.places, whole.zone) or [NO_INCIDENT]:
        print(line)


def _unknown(desk: ReviewDesk, number: int) -> str:
    near = desk.nearest(number)
    if not near:
        return f"There is no incident {number}. {NO_INCIDENT}"
    listed = "; ".join(f"{each.incident_id}, {desk.telling.span(each.span, dated=True)}" for each in near)
    return f"There is no incident {number}. The nearest: {listed}. All of them: clutchwarden review --list"


def _sentence(error: StatedError) -> str:
    return f"{error.reason[:1].upper()}{error.reason[1:]}. {error.hint[:1].upper()}{error.hint[1:]}."
