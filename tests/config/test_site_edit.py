"""Changes to the text of site.toml: what was asked for is changed, everything else stays as somebody wrote it."""

import difflib
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from config.errors import StatedError
from config.site import read_site_text
from config.site_edit import (
    NewChannel,
    NewContact,
    NewProbe,
    NewSource,
    add_channels,
    add_contact,
    add_person,
    add_probe,
    change_contact,
    change_person,
    change_probe,
    remove_contact,
    remove_person,
    remove_probe,
    set_quiet,
)
from config.site_mask import HIDDEN, NOT_KEPT, without_addresses
from config.words import Quantity

CONFIG = Path(__file__).parent.parent.parent / "config"
EXAMPLE = (CONFIG / "example" / "site.toml").read_text(encoding="utf-8")
STARTER = (CONFIG / "starter" / "site.toml").read_text(encoding="utf-8")
AIR = NewChannel("t", Quantity.AIR_TEMPERATURE)
BOX_7 = NewProbe("box-7", "north/lower/N3", 60.0, (AIR,))
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).filter(
    str.strip
)


def lines_changed(before: str, after: str) -> list[str]:
    """What a person sees in a comparison: the lines that went, and those that came."""
    return [
        line
        for line in difflib.ndiff(before.splitlines(keepends=True), after.splitlines(keepends=True))
        if line[0] in "+-"
    ]


@pytest.mark.parametrize("text", [EXAMPLE, STARTER, EXAMPLE.replace("\n", "\r\n"), f"\ufeff{EXAMPLE}"])
def test_a_probe_is_added_behind_the_last_one_and_nothing_else_changes(text: str) -> None:
    place = tomllib.loads(text.removeprefix("\ufeff"))["probe"][0]["place"]
    after = add_probe(text, NewProbe("box-7", place, 90.0, (AIR,)))
    assert all(line.startswith("+") for line in lines_changed(text, after))
    probes = tomllib.loads(after.removeprefix("\ufeff"))["probe"]
    assert probes[-1] == {
        "id": "box-7",
        "place": place,
        "interval_s": 90,
        "channel": [{"name": "t", "quantity": "air_temperature"}],
    }
    # The comment that introduces the people still stands right above them.
    lines = after.splitlines()
    told = next(at for at, line in enumerate(lines) if line.startswith("# Who is told"))
    assert "[[probe" not in "\n".join(lines[told:])


def test_a_device_with_messages_of_its_own_is_read_as_it_was_meant() -> None:
    source = NewSource("hut/a/state", "t", "degF", "/a~1b/t", 0.1, "/at", "unix-ms")
    after = add_probe(EXAMPLE, NewProbe("hut", "north/lower", 60.0, (AIR,), (source,)))
    site = read_site_text(after, CONFIG / "example").site
    assert site is not None
    [read] = site.probes[-1].sources
    assert (read.topic, read.channel, read.unit, read.pointer, read.scale) == (
        "hut/a/state",
        "t",
        "degF",
        "/a~1b/t",
        0.1,
    )
    assert (read.time_pointer, read.time_format) == ("/at", "unix-ms")


def test_comments_beside_a_value_stay_when_it_changes() -> None:
    after = change_probe(EXAMPLE, "north-air", place="north/lower", interval_s=30)
    assert sorted(lines_changed(EXAMPLE, after)) == [
        "+ interval_s = 30                 # how often it sends; silence is measured against this\n",
        '+ place = "north/lower"\n',
        "- interval_s = 60                 # how often it sends; silence is measured against this\n",
        '- place = "north/upper"\n',
    ]


def test_a_value_that_was_not_stated_is_added_to_its_own_table() -> None:
    after = change_probe(EXAMPLE, "box-n1", interval_s=45)
    assert lines_changed(EXAMPLE, after) == ["+ interval_s = 45\n"]
    site = read_site_text(after, CONFIG / "example").site
    assert site is not None
    assert {probe.id: probe.interval_s for probe in site.probes}["box-n1"] == 45


def test_a_probe_out_of_use_takes_its_own_lines_with_it_and_no_other() -> None:
    after = remove_probe(EXAMPLE, "box-n1")
    gone = lines_changed(EXAMPLE, after)
    assert all(line.startswith("-") for line in gone)
    assert "".join(line[2:] for line in gone).strip() == (
        '[[probe]]\nid = "box-n1"\nplace = "north/upper/N1"\n\n[[probe.channel]]\nname = "t"\nquantity = '
        '"air_temperature"\n\n# On the underside of the lid, where water would settle.\n[[probe.channel]]\n'
        'name = "lid"\nquantity = "surface_temperature"'
    )


Pair = tuple[Callable[[str], str], Callable[[str], str]]
THERE_AND_BACK: dict[str, Pair] = {
    "a probe": (lambda text: add_probe(text, BOX_7), lambda text: remove_probe(text, "box-7")),
    "a person": (
        lambda text: add_person(text, "lin", "Lin", True, [NewContact("webhook", "secrets/lin-1")]),
        lambda text: remove_person(text, "lin"),
    ),
    "quiet hours": (lambda text: set_quiet(text, "21:00", "06:30"), lambda text: set_quiet(text, "22:00", "07:00")),
}
ON_THE_EXAMPLE: dict[str, Pair] = {
    "place and interval": (
        lambda text: change_probe(text, "north-air", "south", 5),
        lambda text: change_probe(text, "north-air", "north/upper", 60),
    ),
    "a contact": (
        lambda text: add_contact(text, "jonas", NewContact("apprise", "secrets/jonas-1")),
        lambda text: remove_contact(text, "jonas", 1),
    ),
    "a name": (lambda text: change_person(text, "mara", "Máire"), lambda text: change_person(text, "mara", "Mara")),
    "emergencies": (
        lambda text: change_person(text, "mara", emergency=True),
        lambda text: change_person(text, "mara", emergency=False),
    ),
}


@pytest.mark.parametrize("what", [*THERE_AND_BACK, *ON_THE_EXAMPLE])
def test_there_and_back_gives_the_very_same_text(what: str) -> None:
    there, back = {**THERE_AND_BACK, **ON_THE_EXAMPLE}[what]
    changed = there(EXAMPLE)
    assert changed != EXAMPLE
    assert back(changed) == EXAMPLE


@settings(deadline=None, max_examples=60)
@given(
    comments=st.lists(st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12), max_size=3),
    blanks=st.integers(0, 3),
    name=NAMES,
    values=st.lists(st.sampled_from(['"a]b"', "'[[probe]]'", '"""x\n[[probe]]\ny"""', "[1,\n [2],\n 3]"]), max_size=2),
)
def test_whatever_stands_around_it_an_addition_can_be_taken_back(
    comments: list[str], blanks: int, name: str, values: list[str]
) -> None:
    """Texts that look like headers inside values, comments anywhere, blank lines, any name."""
    around = "\n".join(f"# {each}" for each in comments) + "\n" * blanks
    stated = "".join(f"v{number} = {value}\n" for number, value in enumerate(values))
    head = f'{around}[site]\nname = "x"\n{stated}\n{around}\n'
    probe = f'[[probe]]\nid = "a" # {name}\nplace = "p"\n\n{around}\n'
    text = f'{head}{probe}[[person]]\nid = "m"\nname = "M"\n'
    tomllib.loads(text)
    for there, back in (THERE_AND_BACK["a probe"], THERE_AND_BACK["a person"]):
        assert back(there(text)) == text
    renamed = change_person(text, "m", name)
    assert tomllib.loads(renamed)["person"] == [{"id": "m", "name": name}]
    assert change_person(renamed, "m", "M") == text


def test_channels_are_added_behind_those_that_the_probe_has() -> None:
    after = add_channels(EXAMPLE, "north-air", [NewChannel("lid", Quantity.SURFACE_TEMPERATURE, 0.3)])
    site = read_site_text(after, CONFIG / "example").site
    assert site is not None
    assert [channel.name for channel in site.probes[0].channels] == ["t", "rh", "lid"]
    assert all(line.startswith("+") for line in lines_changed(EXAMPLE, after))


def test_an_address_in_the_file_makes_way_for_the_name_of_a_file() -> None:
    after = change_contact(EXAMPLE, "mara", 1, NewContact("apprise", "secrets/mara-1"))
    contact = tomllib.loads(after)["person"][0]["contact"][0]
    assert contact == {"kind": "apprise", "url_file": "secrets/mara-1"}


def test_quiet_hours_can_be_removed_and_stated_where_there_were_none() -> None:
    without = set_quiet(EXAMPLE, None, None)
    assert "quiet" not in tomllib.loads(without)
    assert tomllib.loads(set_quiet(STARTER, "23:00", "05:00"))["quiet"] == {"start": "23:00", "end": "05:00"}


@pytest.mark.parametrize(
    "edit",
    [
        lambda text: remove_probe(text, "nobody"),
        lambda text: change_person(text, "nobody", "X"),
        lambda text: remove_contact(text, "mara", 2),
        lambda text: remove_contact(text, "mara", 0),
    ],
)
def test_what_is_not_there_any_more_is_refused_in_words(edit: Callable[[str], str]) -> None:
    with pytest.raises(StatedError, match="any more"):
        edit(EXAMPLE)


@pytest.mark.parametrize(
    "text",
    [
        'probe = [{ id = "a", place = "p" }]\n',
        '[[probe]]\nid = "a"\nplace = "p"\n\n[[person]]\nid = "m"\nname = "M"\n\n[[probe.channel]]\nname = "t"\n',
        '[[probe]]\r\nid = "a"\nplace = "p"\r\n',
    ],
    ids=["a list in one line", "a table far from its own", "mixed line ends"],
)
def test_a_layout_that_cannot_be_changed_without_harm_is_left_to_an_editor(text: str) -> None:
    with pytest.raises(StatedError, match="laid out"):
        remove_probe(text, "a")


def test_what_is_no_toml_is_not_touched() -> None:
    with pytest.raises(StatedError):
        add_probe("[[probe]\n", BOX_7)
    with pytest.raises(StatedError, match="not valid TOML"):
        remove_probe("[[probe]\n", "a")


def test_a_record_of_the_file_has_no_address_in_it() -> None:
    """RFC 2606 reserves example.org."""
    text = EXAMPLE + '# url = "json://token-in-a-comment.example.org/x"\n'
    masked = without_addresses(text)
    assert "example.org" not in masked
    assert masked.count(HIDDEN) == 3
    assert tomllib.loads(masked)["person"][0]["name"] == "Mara"


@pytest.mark.parametrize("url", ["https:\\u002F\\u002Fx.example.org/token", "no-address-but-a-token"])
def test_an_address_that_cannot_be_hidden_keeps_the_whole_file_off_the_record(url: str) -> None:
    text = f'[[person]]\nid = "m"\n[[person.contact]]\nkind = "webhook"\nurl = "{url}"\n'
    assert without_addresses(text) == NOT_KEPT
