"""`clutchwarden clutch egg set|mark|which|withdraw`, `clutch measure`, `clutch note`: what is seen of eggs."""

from typing import Annotated

import typer

from daemon.clutches.egg_changes import EggsSaid
from daemon.clutches.egg_rules import named
from daemon.clutches.measures import NewMeasure, swelling
from daemon.commands.clutch_parts import AtOption, LabelArgument, WhyOption, at_ms, closed_too, done, register_of
from daemon.commands.clutch_text import counts_text, swelling_text
from daemon.commands.moments import local_text
from daemon.commands.site_folder import HERE, SiteOption, WhoOption, fail, login_name

egg_app = typer.Typer(help="What becomes of single eggs.", no_args_is_help=True)

StateArgument = Annotated[
    str,
    typer.Argument(
        help="sound, watch, pipped, hatched, given-away, or removed: with infertile, collapsed, mould, discoloured, "
        "stuck (dead, left in place) or other, as in removed:mould."
    ),
]
EventArgument = Annotated[int, typer.Argument(help="The number of the event, as `clutch show` lists it.")]


@egg_app.command("set")
def set_state(
    label: LabelArgument,
    state: StateArgument,
    eggs: Annotated[list[str] | None, typer.Argument(help="Marks or numbers of the eggs.")] = None,
    count: Annotated[int | None, typer.Option(help="How many, where you cannot say which.")] = None,
    note: Annotated[str, typer.Option(help="What was seen or done.")] = "",
    at: AtOption = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say what eggs are: those that are named, or so many of those without a mark."""
    if bool(eggs) == (count is not None):
        raise fail("Say which eggs, by mark or number, or give --count for how many.")
    with register_of(site) as (whole, desk):
        clutch = done(desk.find(label, include_closed=True))
        which = list(eggs) if eggs else count or 0
        moment_ms = at_ms(at, whole)
        said = done(desk.say_of_eggs(clutch.clutch_id, state, which, who or login_name(), note, moment_ms))
        found = desk.file(clutch.clutch_id)
    print(f"{clutch.label}, since {local_text(moment_ms, whole.zone)}: {state}, {_which(said)}.")
    if found is not None:
        print(f"Now {counts_text(found.counts)}.")


@egg_app.command()
def mark(
    label: LabelArgument,
    marks: Annotated[list[str], typer.Argument(help="Number or old mark, and the mark: 3=A. 3= forgets it.")],
    at: AtOption = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say what is written on shells."""
    parts = [each.partition("=") for each in marks]
    if wrong := [before for before, equals, _ in parts if not equals]:
        raise fail(f"{wrong[0]!r} names no mark. Write the number of the egg and its mark, as in 3=A.")
    with register_of(site) as (whole, desk):
        clutch = done(desk.find(label))
        stated = {name: text for name, _, text in parts}
        done(desk.mark(clutch.clutch_id, stated, who or login_name(), at_ms(at, whole)))
    print(f"{clutch.label}: " + ", ".join(f"egg {name} is {text or 'without a mark'}" for name, text in stated.items()))


@egg_app.command()
def which(
    label: LabelArgument,
    event: EventArgument,
    egg: Annotated[str, typer.Argument(help="Mark or number of the egg that it was about.")],
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Say which egg an event was about, where only the number of eggs was told, or another one was meant."""
    with register_of(site) as (_, desk):
        clutch = done(desk.find(label))
        said = done(desk.say_which(clutch.clutch_id, event, egg, who or login_name()))
    print(f"{clutch.label}: event {event} was about egg {named(said.eggs)}, and is event {said.events[0]} now.")


@egg_app.command()
def withdraw(
    label: LabelArgument, event: EventArgument, why: WhyOption = "", who: WhoOption = "", site: SiteOption = HERE
) -> None:
    """Take back what was said of an egg by mistake. Both stay on record."""
    with register_of(site) as (whole, desk):
        clutch = done(desk.find(label))
        taken = done(desk.withdraw_event(clutch.clutch_id, event, who or login_name(), why))
        found = desk.file(clutch.clutch_id)
    said = f"egg {taken.egg} {taken.stated.words}, {local_text(taken.at_ms, whole.zone)}"
    print(f"{clutch.label}: taken back that {said}.")
    if found is not None:
        print(f"Now {counts_text(found.counts)}.")


def measure(
    label: LabelArgument,
    egg: Annotated[str, typer.Option(help="Mark or number of the egg. Default: the clutch.")] = "",
    mass_g: Annotated[float | None, typer.Option("--mass-g", help="Mass, in g.")] = None,
    length_mm: Annotated[float | None, typer.Option("--length-mm", help="Length of one egg, in mm.")] = None,
    eggs: Annotated[int, typer.Option(help="How many eggs lay on the scales together.", min=1)] = 1,
    withdraw: Annotated[int | None, typer.Option(help="Take back the measurement with this number.")] = None,
    note: Annotated[str, typer.Option(help="How it was measured, or why it is taken back.")] = "",
    at: AtOption = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Write down the size of an egg, or of several weighed together; says how far they have swollen."""
    with register_of(site) as (whole, desk):
        clutch = closed_too(desk, label)
        name = who or login_name()
        if withdraw is not None:
            refused = desk.withdraw_measure(clutch.clutch_id, withdraw, name, note)
            done(refused)
            print(f"{clutch.label}: measurement {withdraw} is taken back.")
            return
        new = NewMeasure(at_ms(at, whole), mass_g, length_mm, eggs, None, note)
        number = done(desk.measure(clutch.clutch_id, new, name, egg))
        found = desk.file(clutch.clutch_id)
    print(f"{clutch.label}: measurement {number} is kept.")
    if found is not None:
        of_it = next(one.measured.egg for one in found.measures if one.number == number)
        how_far = swelling(found.measures, of_it)
        if how_far is not None:
            print(swelling_text(how_far, whole.zone))


def note(
    label: LabelArgument,
    text: Annotated[str, typer.Argument(help="What was seen or done. '' with --corrects takes a note back.")],
    corrects: Annotated[int | None, typer.Option(help="The number of the note whose place it takes.")] = None,
    at: AtOption = None,
    who: WhoOption = "",
    site: SiteOption = HERE,
) -> None:
    """Write a dated note."""
    with register_of(site) as (whole, desk):
        clutch = closed_too(desk, label)
        number = done(desk.note(clutch.clutch_id, text, who or login_name(), at_ms(at, whole), corrects))
    print(f"{clutch.label}: note {number} is kept.")


def _which(said: EggsSaid) -> str:
    names = f"egg{'s' * (len(said.eggs) > 1)} {named(said.eggs)}"
    if not said.by_count:
        return names
    events = f"event{'s' * (len(said.events) > 1)} {', '.join(map(str, said.events))}"
    return f"{len(said.eggs)} of those without a mark (taken for it: {names}; {events})"
