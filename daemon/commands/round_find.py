"""`clutchwarden round find`: what was found in a box, by command."""

import uuid
from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated

import typer

from config.plain import nearest
from daemon.clutches.egg_rules import stated_as
from daemon.clutches.register import RegisterError
from daemon.commands.round_site import desk_of
from daemon.commands.round_text import state_lines
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, login_name, read_site
from daemon.round_desk import RoundDesk
from daemon.rounds.values import EggsSeen, Entry, Lid, Medium, Refused, Stored, Where
from daemon.rounds.walk import Walk

_EGGS = "By mark or number, such as 5 or 5,B; 3x for three of them without saying which."


def find(
    box: Annotated[str, typer.Argument(help="The box, such as N1 or north/top/N1; or the label of its clutch.")],
    medium: Annotated[Medium | None, typer.Option(help="The medium as the hand feels it.")] = None,
    lid: Annotated[Lid | None, typer.Option(help="The inside of the lid.")] = None,
    wiped: Annotated[bool, typer.Option("--wiped", help="The lid was wiped.")] = False,
    water_ml: Annotated[float | None, typer.Option(help="Water that was added, ml.")] = None,
    where: Annotated[Where | None, typer.Option(help="Where on the medium; never on eggs.")] = None,
    looked_at_eggs: Annotated[bool, typer.Option("--eggs", help="The eggs were looked at.")] = False,
    remove: Annotated[
        list[str] | None, typer.Option(help=f"Lost eggs and why: 2:mould, stuck ones too. {_EGGS}")
    ] = None,
    watch: Annotated[list[str] | None, typer.Option(help=f"Eggs that are put on watch. {_EGGS}")] = None,
    sound: Annotated[list[str] | None, typer.Option(help=f"Eggs that are sound again. {_EGGS}")] = None,
    pipped: Annotated[list[str] | None, typer.Option(help=f"Eggs that have pipped. {_EGGS}")] = None,
    hatched: Annotated[list[str] | None, typer.Option(help=f"Eggs that have hatched. {_EGGS}")] = None,
    egg_note: Annotated[str, typer.Option(help="What is to be said of these eggs; the reason other needs it.")] = "",
    treated: Annotated[str, typer.Option(help="With what, such as 'powder on the spot'.")] = "",
    note: Annotated[str, typer.Option(help="A remark.")] = "",
    skip: Annotated[str, typer.Option(help="Why the box was left out.")] = "",
    all_well: Annotated[
        bool,
        typer.Option("--all-well", help="States: medium clumps, lid dry, eggs looked at, nothing found."),
    ] = False,
    through_lid: Annotated[bool, typer.Option("--through-lid", help="It was not opened.")] = False,
    trained_handler: Annotated[
        bool, typer.Option("--trained-handler", help="Venomous: whoever did it is trained for it.")
    ] = False,
    round_number: Annotated[
        int | None, typer.Option("--round", help="Of an ended round too.", show_default="the one that goes on there")
    ] = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Enter what was found in a box; more can be said later, and corrected on the page of the box."""
    whole = read_site(site)
    said = ((remove, "removed"), (watch, "watch"), (sound, "sound"), (pipped, "pipped"), (hatched, "hatched"))
    eggs = tuple(each for options, state in said for each in _eggs(options or (), state, egg_note))
    with whole.journal() as journal:
        desk = desk_of(whole, journal)
        number, key = _round_and_box(desk, box, round_number)
        entry = Entry(
            entry_id=str(uuid.uuid4()),
            box=key,
            who=who or login_name(),
            medium=medium,
            lid=lid,
            wiped=wiped,
            water_ml=water_ml,
            water_where=where,
            looked_at_eggs=looked_at_eggs,
            eggs=eggs,
            treated=treated,
            remark=note,
            skipped=skip,
            all_well=all_well,
            through_lid=through_lid,
            trained_handler=trained_handler,
        )
        _tell(desk, number, key, desk.enter(number, entry))


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


def _eggs(options: Iterable[str], state: str, note: str) -> Iterator[EggsSeen]:
    for option in options:
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
