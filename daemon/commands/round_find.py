"""`clutchwarden round find`: what was found in a box, by command."""

import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from config.plain import nearest
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.register import RegisterError
from daemon.commands import round_find_options as options
from daemon.commands.round_site import desk_of
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, login_name, read_site
from daemon.round_desk import RoundDesk
from daemon.rounds.values import EggsSeen, Entry, Refused, Stored
from daemon.rounds.walk import Walk
from daemon.rounds.words import state_lines


def find(
    box: options.BoxArgument,
    medium: options.MediumOption = None,
    lid: options.LidOption = None,
    wiped: options.WipedOption = False,
    water_ml: options.WaterOption = None,
    where: options.WhereOption = None,
    looked_at_eggs: options.LookedOption = False,
    remove: options.RemoveOption = None,
    watch: options.WatchOption = None,
    sound: options.SoundOption = None,
    pipped: options.PippedOption = None,
    hatched: options.HatchedOption = None,
    egg_note: options.EggNoteOption = "",
    treated: options.TreatedOption = "",
    note: options.RemarkOption = "",
    skip: options.SkipOption = "",
    all_well: options.AllWellOption = False,
    through_lid: options.ThroughLidOption = False,
    trained_handler: options.TrainedOption = False,
    round_number: options.RoundOption = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Enter what was found in a box; more can be said later, and corrected on the page of the box."""
    whole = read_site(site)
    said = ((remove, "removed"), (watch, "watch"), (sound, "sound"), (pipped, "pipped"), (hatched, "hatched"))
    eggs = tuple(each for chosen, state in said for each in _eggs(chosen or (), state, egg_note))
    felt = Entry(str(uuid.uuid4()), "", who or login_name(), medium=medium, lid=lid, wiped=wiped, eggs=eggs)
    felt = replace(felt, water_ml=water_ml, water_where=where, looked_at_eggs=looked_at_eggs, treated=treated)
    felt = replace(felt, all_well=all_well, through_lid=through_lid, trained_handler=trained_handler)
    with whole.journal() as journal:
        desk = desk_of(whole, journal)
        number, key = _round_and_box(desk, box, round_number)
        _tell(desk, number, key, desk.enter(number, replace(felt, box=key, remark=note, skipped=skip)))


def _tell(desk: RoundDesk, number: int, key: str, done: object) -> None:
    if isinstance(done, Refused):
        raise fail(f"Not stored: {done.reason}. {done.hint}")
    view = desk.sheet(key, number)
    if view is None or not isinstance(done, Stored):
        return
    print(f"Stored for {view.stop.whole_name} ({view.stop.label or 'empty'}), round no. {number}.")
    for line in done.said:
        print(line)
    for line in () if view.state is None else state_lines(view.state):
        print(f"  {line}")
    for line in view.beside:
        print(f"? {line}")
    following = desk.walk([number]).after(key)
    if following is not None:
        print(f"Next: {following.stop.key} ({following.stop.label}).")
    elif desk.walk([number]).rounds[0].round.ended_ms is None:
        print(f"All boxes are done. When it is closed again: clutchwarden round end {view.stop.incubator}")


def _eggs(chosen: Iterable[str], state: str, note: str) -> Iterator[EggsSeen]:
    for option in chosen:
        which, _, reason = option.partition(":")
        text = f"{state}:{reason}" if reason.strip() else state
        try:
            yield EggsSeen(stated_as(text, note), _which(which))
        except RegisterError as error:
            raise fail(f"Not stored: {error}") from None


def _which(text: str) -> tuple[str, ...] | int:
    """Read `5,B`, or `3x` for three of them."""
    text = text.strip()
    if text[-1:] == "x" and text[:-1].isascii() and text[:-1].isdigit():
        return int(text[:-1])
    return tuple(each.strip() for each in text.split(",") if each.strip())


def _round_and_box(desk: RoundDesk, box: str, number: int | None) -> tuple[int, str]:
    walk = desk.walk([] if number is None else [number])
    if not walk.rounds:
        if number is not None:
            raise fail(f"There is no round no. {number}. See: clutchwarden round list")
        raise fail("No round goes on. Start one: clutchwarden round start INCUBATOR")
    keys = _keys(walk, box)
    if len(keys) != 1:
        known = [each.stop.key for each in walk.boxes]
        reason = (
            f"{box!r} may be {' or '.join(keys)}." if keys else f"There is no box {box!r} in the rounds that go on."
        )
        raise fail(f"{reason} {nearest(box, known)}" if not keys else f"{reason} Write the whole of it.")
    of_box = next(each for each in walk.boxes if each.stop.key == keys[0])
    return of_box.round_number or walk.rounds[0].number, keys[0]


def _keys(walk: Walk, box: str) -> Sequence[str]:
    """Give the keys that may be meant: that very key, else the last part of it, else the label of the clutch."""
    wanted = box.strip().casefold()
    for matches in (
        [each.stop.key for each in walk.boxes if each.stop.key.casefold() == wanted],
        [each.stop.key for each in walk.boxes if each.stop.key.rpartition("/")[2].casefold() == wanted],
        [each.stop.key for each in walk.boxes if each.stop.label.casefold() == wanted],
    ):
        if matches:
            return matches
    return []
