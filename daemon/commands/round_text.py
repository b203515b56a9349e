"""The walk, a box and the summary of a round as lines for a terminal. Pure."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import tzinfo
from zoneinfo import ZoneInfo

from config.words import Quantity
from daemon.alarms.figures import duration_text, value_text
from daemon.development.window import HatchWindow
from daemon.local_moments import local_text
from daemon.rounds.hints import Hint
from daemon.rounds.sheet import BoxSheet, Measured
from daemon.rounds.summary import EggsOf, Summary
from daemon.rounds.values import Stop, named
from daemon.rounds.walk import BoxView, Done, WalkBox
from daemon.rounds.words import BEGUN_WORDS, state_lines, water_text
from daemon.standing.care import day_text

_MARKS = {Done.OPEN: "[ ]", Done.BEGUN: "[~]", Done.SEEN: "[x]", Done.SKIPPED: "[-]"}


def walk_lines(boxes: Sequence[WalkBox]) -> Iterator[str]:
    """Give the boxes with how far each is, and what they need; an empty box in one line."""
    for number, each in enumerate(boxes, start=1):
        yield f"{_MARKS[each.done]} {number:>2}. {each.stop.key}  {_who(each.stop)}"
        if each.done is Done.BEGUN:
            yield f"         {BEGUN_WORDS}"
        yield from (f"         {line}" for line in each.need.words)
        if each.state is not None:
            yield from (f"       > {line}" for line in state_lines(each.state))


def _who(stop: Stop) -> str:
    if stop.is_empty:
        return "empty"
    return f"{_hands_off(stop)}{stop.label}, {stop.species_name}"


def _hands_off(stop: Stop) -> str:
    return "VENOMOUS, trained handlers only: " if stop.venomous else ""


def box_lines(view: BoxView, zone: ZoneInfo, fahrenheit: bool) -> Iterator[str]:
    """Give all that a box shows before it is opened; cautions that must come first are first."""
    yield from (f"! {each.text}" for each in view.cautions if each.first)
    yield f"{view.stop.whole_name}: {_who(view.stop)}"
    yield from _clutch_lines(view.sheet, zone)
    yield f"Since {local_text(view.sheet.since_ms, zone)} ({view.sheet.since_why}):"
    for measured in (view.sheet.temperature, view.sheet.humidity):
        if measured is not None:
            yield f"  {measured_line(measured, fahrenheit)}"
    if view.sheet.temperature is None and view.sheet.humidity is None:
        yield "  no probe speaks for this box"
    if view.sheet.behind:
        yield "  some readings are not counted yet: ask again in a minute while the daemon runs"
    water = view.sheet.water_on_lid
    if water is not None:
        yield f"  {water_text(water)}"
    if view.sheet.dry_out:
        yield f"  {view.sheet.dry_out}."
    if view.sheet.last is not None:
        yield f"Last time, {local_text(view.sheet.last.at_ms, zone)}:"
        yield from (f"  {line}" for line in state_lines(view.sheet.last))
    if view.state is not None:
        yield "In this round:"
        yield from (f"  {line}" for line in state_lines(view.state))
    yield from (f"? {line}" for line in view.beside)
    yield from _hint_lines(view.first_hints)
    yield from (f"! {each.text}" for each in view.cautions if not each.first)


def _clutch_lines(sheet: BoxSheet, zone: tzinfo) -> Iterator[str]:
    clutch = sheet.clutch
    if clutch is None:
        return
    counts = clutch.counts
    share = "" if clutch.share is None else f", {100 * clutch.share:.0f} % of its development"
    yield f"  day {clutch.day}{share}; {counts.inside} of {counts.total} eggs inside, {counts.watch} on watch"
    window = clutch.window
    if isinstance(window, HatchWindow):
        yield f"  hatching {day_text(window.earliest_ms, zone)} to {day_text(window.latest_ms, zone)}"
    if clutch.note:
        yield f"  note: {clutch.note}"


def measured_line(measured: Measured, fahrenheit: bool) -> str:
    """Say mean and extremes of a quantity, and hours outside the limits."""
    if measured.mean is None or measured.least is None or measured.most is None:
        return f"no reading of {_NAMES[measured.quantity]}"
    mean, least, most = (
        value_text(each, measured.quantity, fahrenheit) for each in (measured.mean, measured.least, measured.most)
    )
    outside = []
    if measured.hours_below:
        outside.append(f"{measured.hours_below:.0f} h below")
    if measured.hours_above:
        outside.append(f"{measured.hours_above:.0f} h above")
    told = f"; {named(outside)} the limits" if outside else ""
    gap = f"; {measured.hours_unknown:.0f} h not known" if measured.hours_unknown >= 1 else ""
    where = "" if measured.in_box else f" (by the probe in {measured.measured_at})"
    return f"{_NAMES[measured.quantity]} {mean}, from {least} to {most}{told}{gap}{where}"


_NAMES = {Quantity.AIR_TEMPERATURE: "air", Quantity.RELATIVE_HUMIDITY: "humidity"}


def _hint_lines(hints: Iterable[Hint]) -> Iterator[str]:
    yield from (f"- {each.text} ({each.source})" for each in hints)


def summary_lines(found: Summary, incubator: str, zone: ZoneInfo) -> Iterator[str]:
    """Give what a round came to."""
    round_ = found.round.round
    lasted = "goes on" if found.duration_ms is None else f"took {duration_text(found.duration_ms)}"
    yield f"Round no. {found.round.number} in {incubator} by {named(found.people)}, {lasted}."
    yield f"Started {local_text(round_.started_ms, zone)}; {found.seen} of {found.boxes} boxes with a clutch seen."
    yield from _eggs_lines("Said of eggs:", found.eggs)
    yield from _eggs_lines("On watch now:", found.on_watch)
    yield from _eggs_lines("NOT TAKEN, look again:", found.not_taken)
    for heading, lines in (
        (
            "See sooner:",
            [
                f"{_hands_off(each.stop)}{each.stop.name}, {day_text(each.at_ms, zone)}: {named(each.why)}"
                for each in found.sooner
            ],
        ),
        ("Left out:", [f"{each.stop.name}: {each.why} ({each.who})" for each in found.skipped]),
        ("Not seen:", [each.name for each in found.not_seen]),
        ("Treated:", [f"{stop.name}: {what}" for stop, what in found.treated]),
    ):
        if lines:
            yield heading
            yield from (f"  {line}" for line in lines)
    if found.water_ml:
        yield f"Water: {found.water_ml:g} ml."
    if found.photos:
        yield f"Photos: {found.photos}."
    if found.late:
        yield f"Entries that came after the end: {found.late}."
    if found.round.note:
        yield f"Note: {found.round.note}"
    if found.next_due_ms is not None:
        yield f"Next round due {day_text(found.next_due_ms, zone)}."


def _eggs_lines(heading: str, eggs: Sequence[EggsOf]) -> Iterator[str]:
    if eggs:
        yield heading
    for each in eggs:
        refused = f" ({each.refused})" if each.refused else ""
        yield f"  {each.stop.name}, {each.stop.label}: {named(each.names)} {each.words}{refused}"
