"""One box of a round as its page shows it. Pure."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from daemon.clutches.eggs import REASON_WORDS, STATE_WORDS, Egg, EggState, Reason
from daemon.commands.round_text import measured_line
from daemon.development.window import HatchWindow
from daemon.rounds.cautions import Caution
from daemon.rounds.hints import Hint
from daemon.rounds.need import Reason as NeedReason
from daemon.rounds.sheet import BoxSheet, ClutchSheet
from daemon.rounds.values import LID_WORDS, MEDIUM_WORDS, WHERE_WORDS, Photo, Stop
from daemon.rounds.walk import BoxView
from daemon.rounds.words import disagreement_lines, state_lines, water_text
from dashboards import figures
from dashboards.clutch_eggs import eggs_text
from dashboards.rounds_entry import entry_json
from dashboards.rounds_paths import box_path, photo_page_path, photo_path

Options = tuple[tuple[str, str], ...]

MEDIUM: Options = tuple((each.value, words) for each, words in MEDIUM_WORDS.items())
LID: Options = tuple((each.value, words) for each, words in LID_WORDS.items())
WHERE: Options = tuple((each.value, words) for each, words in WHERE_WORDS.items())
REASONS: Options = tuple((each.value, words) for each, words in REASON_WORDS.items())
STATES: Options = (
    (EggState.WATCH.value, "put on watch"),
    (EggState.SOUND.value, "sound again"),
    (EggState.PIPPED.value, "pipped"),
    (EggState.HATCHED.value, "hatched"),
    (EggState.REMOVED.value, "removed"),
)
STATES_BY_EYE: Options = STATES[:4]
WATER_STEPS_ML = (10, 25, 50)
SKIPS = ("Not to be disturbed", "No time", "Only a trained handler may")
TREATED = ("Powder on the spot",)


@dataclass(frozen=True, slots=True)
class EggChip:
    """One egg to tap. `note` says what it is where it is not just sound."""

    name: str
    state: str
    note: str


@dataclass(frozen=True, slots=True)
class PhotoView:
    """A photo that was taken: where it is shown, where it is small, what it is called, and what stands under it."""

    path: str
    small_path: str
    words: str
    caption: str


@dataclass(frozen=True, slots=True)
class BoxPage:
    """The box. `first` are cautions that stand before everything else; `measured` and `last` are lines.

    `through_lid`: nothing that needs a hand in the box is offered. `entries` is what the script of the page reads.
    """

    number: int
    key: str
    path: str
    stop: Stop
    is_ended: bool
    first: tuple[Caution, ...]
    facts: tuple[str, ...]
    note: str
    needs: tuple[NeedReason, ...]
    since: str
    measured: tuple[str, ...]
    last_head: str
    last: tuple[str, ...]
    beside: tuple[str, ...]
    eggs: tuple[EggChip, ...]
    gone: tuple[EggChip, ...]
    hints: tuple[Hint, ...]
    more_hints: tuple[Hint, ...]
    cautions: tuple[Caution, ...]
    photos: tuple[PhotoView, ...]
    through_lid: bool
    all_well: str
    entries: tuple[dict[str, Any], ...]
    disagreements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Typed:
    """What was sent by the plain form and refused: the fields as typed, and what is wrong with each."""

    fields: Mapping[str, Sequence[str]] = field(default_factory=dict)
    errors: Mapping[str, str] = field(default_factory=dict)

    def one(self, name: str) -> str:
        """Give what was typed into a field; empty for nothing."""
        return self.fields.get(name, [""])[-1]

    def has(self, name: str, value: str) -> bool:
        """True where this was chosen."""
        return value in self.fields.get(name, ())


def box_page(
    view: BoxView, numbers: Sequence[int], eggs: Sequence[Egg], zone: ZoneInfo, *, fahrenheit: bool
) -> BoxPage:
    """Put a box into words. A round has to go on in it, or have been."""
    sheet, state, found = view.sheet, view.state, view.round
    number = 0 if found is None else found.number
    findings = () if state is None else state.findings
    corrected = frozenset() if state is None else state.corrected
    chips = [(each, EggChip(each.name, each.stated.state.value, _egg_note(each))) for each in eggs]
    last = sheet.last
    return BoxPage(
        number=number,
        key=view.stop.key,
        path=box_path(numbers, view.stop.key),
        stop=view.stop,
        is_ended=found is not None and found.round.ended_ms is not None,
        first=tuple(each for each in view.cautions if each.first),
        facts=tuple(_facts(sheet.clutch, zone)),
        note="" if sheet.clutch is None else sheet.clutch.note,
        # What it needed before somebody looked into it.
        needs=() if state is not None and state.is_seen and not state.is_begun else view.need.reasons,
        since=f"{_moment(sheet.since_ms, zone)}: {sheet.since_why}",
        measured=tuple(_measured(sheet, fahrenheit=fahrenheit)),
        last_head="" if last is None else _moment(last.at_ms, zone),
        last=() if last is None else tuple(state_lines(last)),
        beside=view.beside,
        eggs=tuple(chip for egg, chip in chips if egg.stated.state.is_open or egg.stated.is_left),
        gone=tuple(chip for egg, chip in chips if not (egg.stated.state.is_open or egg.stated.is_left)),
        hints=view.first_hints,
        more_hints=view.more_hints,
        cautions=tuple(each for each in view.cautions if not each.first),
        photos=tuple(photo_view(each, zone) for each in view.photos),
        through_lid=view.through_lid_only,
        all_well=view.all_well,
        entries=tuple(entry_json(each, is_corrected=each.entry.entry_id in corrected) for each in findings),
        disagreements=() if state is None else tuple(disagreement_lines(state)),
    )


def shown_entries(page: BoxPage) -> tuple[dict[str, Any], ...]:
    """Give the entries that stand and say something."""
    return tuple(each for each in page.entries if not each["gone"] and each["words"] != "an entry was taken back")


def mark_of_content(html: str, entries: Sequence[Mapping[str, Any]]) -> str:
    """Give a mark by which a browser knows whether it has this box as it is now."""
    whole = html + json.dumps(entries, sort_keys=True, default=str)
    return hashlib.blake2b(whole.encode(), digest_size=5).hexdigest()


def _facts(clutch: ClutchSheet | None, zone: ZoneInfo) -> Iterator[str]:
    if clutch is None:
        return
    share = "" if clutch.share is None else f", {figures.percent(clutch.share)} of development"
    yield f"Day {clutch.day}{share}"
    yield f"Eggs: {eggs_text(clutch.counts)}"
    window = clutch.window
    if isinstance(window, HatchWindow):
        earliest, latest = (figures.local(each, zone) for each in (window.earliest_ms, window.latest_ms))
        yield f"Hatching {figures.date_range(earliest, latest)}"


def _measured(sheet: BoxSheet, *, fahrenheit: bool) -> Iterator[str]:
    for measured in (sheet.temperature, sheet.humidity):
        if measured is not None:
            line = measured_line(measured, fahrenheit)
            yield f"{line[:1].upper()}{line[1:]}."
    if sheet.temperature is None and sheet.humidity is None:
        yield "No probe speaks for this box: hand and eye alone tell."
    water = sheet.water_on_lid
    if water is not None:
        text = water_text(water)
        yield f"{text[:1].upper()}{text[1:]}."
    if sheet.dry_out:
        yield f"{sheet.dry_out}."
    if sheet.behind:
        yield "The newest readings are not counted yet."


def _moment(moment_ms: int, zone: ZoneInfo) -> str:
    moment = figures.local(moment_ms, zone)
    return f"{moment:%a} {figures.date_text(moment)}, {moment:%H:%M}"


def _egg_note(egg: Egg) -> str:
    stated = egg.stated
    if stated.state is EggState.SOUND:
        return ""
    return "dead, left" if stated.reason is Reason.STUCK else STATE_WORDS[stated.state]


def photo_view(photo: Photo, zone: ZoneInfo) -> PhotoView:
    """Say where a photo is, and what it is called."""
    moment, path = _moment(photo.received_ms, zone), photo_path(photo.photo_id)
    number = photo.round_number
    words = f"Photo by {photo.who}, {moment}, in round no. {number}"
    return PhotoView(photo_page_path(photo.photo_id), f"{path}?small=1", words, f"{moment}, round no. {number}")
