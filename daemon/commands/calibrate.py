"""`clutchwarden calibrate`: what corrects a probe, how sure it is then, and when to do it again."""

import json
from contextlib import suppress
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from daemon.calibration_bench import Bench, beside_reference
from daemon.calibration_text import (
    equation,
    point_text,
    record_as_dict,
    reference_text,
    standing_as_dict,
    standing_row,
    standing_text,
)
from daemon.commands.calibrate_parts import (
    ChannelArgument,
    DriftOption,
    DueOption,
    JsonOption,
    NoteOption,
    RepeatabilityOption,
    ShownOption,
    SinceOption,
    TakenOption,
    Terms,
    YesOption,
    bench,
    conclude,
    drift,
    now_ms,
    refusals,
    repeatability,
    require_settled,
    uncorrected,
)
from daemon.commands.calibrate_salt import salt
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, read_site
from daemon.local_moments import local_text
from daemon.storage import calibrations as stored
from sensors.calibration import stated_of
from sensors.calibration_line import UNCORRECTED, Point, one_point, two_point, usual

app = typer.Typer(
    help="Correct probes against a reference thermometer or saturated salts, from a date on.", no_args_is_help=True
)
app.command()(salt)

AccuracyOption = Annotated[
    float | None,
    typer.Option(
        "--reference-accuracy", help="± of the reference, by its certificate. Asked for a thermometer; 2 % RH."
    ),
]


@app.command("list")
def list_channels(
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False, site: SiteOption = HERE
) -> None:
    """List every channel: last calibration, its age, when it is due, how sure a reading is."""
    whole = read_site(site)
    with whole.journal() as journal, journal.read() as conn:
        calibrations = stored.load(conn, whole.site)
    known, now = stated_of(whole.site), now_ms()
    if as_json:
        print(json.dumps([standing_as_dict(each, known[each], calibrations, now) for each in known], indent=2))
        return
    table = Table("channel", "quantity", "calibrated", "age", "due", "sure within")
    table.columns[0].no_wrap, table.columns[0].overflow = True, "fold"
    table.columns[0].min_width = max(map(len, known), default=1)
    for channel, stated in known.items():
        table.add_row(*standing_row(channel, stated, calibrations, now, whole.zone))
    Console().print(table)


@app.command()
def show(
    channel: ChannelArgument,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    site: SiteOption = HERE,
) -> None:
    """Show everything on record for one channel, oldest first."""
    whole = read_site(site)
    with bench(whole, channel, None) as at:
        with at.journal.read() as conn:
            records = stored.history(conn, channel)
        standing = standing_as_dict(channel, at.stated, at.calibrations, at.now_ms)
        in_force = at.calibrations.in_force(channel, at.now_ms)
    if as_json:
        history = [record_as_dict(record, at.stated.quantity) for record in records]
        print(json.dumps(standing | {"history": history}, indent=2))
        return
    scale = at.scale
    for record in records:
        said = "taken back" if record.takes_back else equation(record.line, scale)
        print(f"From {local_text(record.valid_from_ms, whole.zone)}: {record.method}, {said}")
        for point in record.line.points:
            print(f"  {point_text(point, scale, 'said')}")
        print(f"  by {record.who}, entered {local_text(record.recorded_at_ms, whole.zone)}. {record.note}".rstrip())
    print(f"{channel} now: {standing_text(in_force, at.stated, whole.zone)}")


@app.command("one-point")
def one_point_command(
    channel: ChannelArgument,
    reference: Annotated[float, typer.Option(help="What is true, °C or % RH.")],
    reading: Annotated[
        float | None, typer.Option(help="What the probe said.", show_default="mean of the last minutes")
    ] = None,
    reference_accuracy: AccuracyOption = None,
    shown: ShownOption = None,
    since: SinceOption = None,
    taken: TakenOption = None,
    due: DueOption = "1y",
    repeats: RepeatabilityOption = None,
    wanders: DriftOption = None,
    note: NoteOption = "",
    who: WhoOption = "",
    yes: YesOption = False,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Shift a probe by what it is off beside a reference, near the temperature or humidity in use."""
    terms = Terms(since, taken, due, note, who, yes, as_json)
    with bench(read_site(site), channel, taken) as at, refusals():
        repeats_u = repeatability(repeats, at.stated)
        accuracy = _accuracy(at, reference_accuracy, terms)
        said, said_u = _reading(at, reading, shown, repeats_u)
        point = _point(at, reference, said, accuracy, said_u)
        line = one_point(at.stated.quantity, point, at.stated.accuracy, repeats_u, drift(wanders, at.stated))
        conclude(at, line, "one-point", terms)


@app.command("two-point")
def two_point_command(
    channel: ChannelArgument,
    low_reference: Annotated[float, typer.Option(help="What is true at the lower point, °C or % RH.")],
    low_reading: Annotated[float, typer.Option(help="What the probe said there.")],
    high_reference: Annotated[float, typer.Option(help="What is true at the upper point.")],
    high_reading: Annotated[float, typer.Option(help="What the probe said there.")],
    reference_accuracy: AccuracyOption = None,
    shown: ShownOption = None,
    since: SinceOption = None,
    taken: TakenOption = None,
    due: DueOption = "1y",
    repeats: RepeatabilityOption = None,
    wanders: DriftOption = None,
    note: NoteOption = "",
    who: WhoOption = "",
    yes: YesOption = False,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Correct a probe by a line through two points, best below and above what is in use."""
    terms = Terms(since, taken, due, note, who, yes, as_json)
    with bench(read_site(site), channel, taken) as at, refusals():
        repeats_u = repeatability(repeats, at.stated)
        accuracy = _accuracy(at, reference_accuracy, terms)
        low, high = (
            _point(at, true, uncorrected(at, said, shown), accuracy, repeats_u)
            for true, said in ((low_reference, low_reading), (high_reference, high_reading))
        )
        line = two_point(at.stated.quantity, low, high, repeats_u, drift(wanders, at.stated), one_reference=True)
        conclude(at, line, "two-point", terms)


@app.command()
def withdraw(
    channel: ChannelArgument,
    since: SinceOption = None,
    note: NoteOption = "",
    who: WhoOption = "",
    yes: YesOption = False,
    as_json: JsonOption = False,
    site: SiteOption = HERE,
) -> None:
    """Say that from a date on a probe counts as never calibrated: replaced, repaired, or entered by mistake."""
    with bench(read_site(site), channel, None) as at:
        conclude(at, UNCORRECTED, "withdrawn", Terms(since, None, "1y", note, who, yes, as_json))


def _reading(at: Bench, given: float | None, shown: bool | None, repeats_u: float) -> tuple[float, float]:
    """What the probe said and its standard uncertainty: as typed, else the mean of its readings that have settled."""
    if given is not None:
        return uncorrected(at, given, shown), repeats_u
    mean, scatter = require_settled(at.listened(at.channel, at.taken_ms), at, at.channel)
    return mean, max(repeats_u, scatter)


def _accuracy(at: Bench, given: float | None, terms: Terms) -> float:
    """How good the reference is: of a thermometer nobody can guess that, so it is asked for.

    Ends with a sentence where nobody is there to answer.
    """
    if given is not None:
        return given
    if not at.stated.quantity.is_temperature:
        return usual(at.stated.quantity).reference_accuracy
    if not (terms.yes or terms.as_json):
        with suppress(typer.Abort):
            asked: float = typer.prompt("± of the reference thermometer, °C, by its certificate", type=float, err=True)
            return asked
    raise fail(
        "Say how good the reference thermometer is: --reference-accuracy 0.1 where its certificate says ± 0.1 °C. "
        "Without a certificate take what its maker states, often 0.5 or 1. Nothing was stored."
    )


def _point(at: Bench, true: float, said: float, accuracy: float, said_u: float) -> Point:
    return beside_reference(true, said, accuracy, said_u, reference_text(accuracy, at.scale))
