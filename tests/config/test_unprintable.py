"""Characters that nobody sees: in names of people they are refused, in other texts a mark stands for them."""

from pathlib import Path

import pytest

from config.model import LONGEST_NAME
from config.site import read_site
from config.unprintable import has_unprintable, printable_text
from daemon.storage.text import storable

# Unicode Standard Annex #9, section 2: the marks that turn the direction of text.
TURNING = ["\u202a", "\u202b", "\u202c", "\u202d", "\u202e", "\u2066", "\u2067", "\u2068", "\u2069"]
CONTROLS = ["\x00", "\x07", "\x1b", "\x7f", "\x85"]
NAMES = ["Zoë Öz", "龙", "نور", "O'Neil-Đặng", "Ana\u00a0María", "👩\u200d🌾"]


def site_with(folder: Path, name: str) -> list[str]:
    escaped = "".join(f"\\U{ord(each):08x}" for each in name)
    (folder / "site.toml").write_text(
        f'[site]\nname = "x"\ntime_zone = "UTC"\n[[person]]\nid = "a"\nname = "{escaped}"\n', encoding="utf-8"
    )
    return [mistake.key for mistake in read_site(folder).mistakes if mistake.key.startswith("person")]


@pytest.mark.parametrize("hidden", [*TURNING, *CONTROLS, "\n", "\t", "\u2028"])
def test_a_name_with_what_nobody_sees_is_refused_where_it_stands(tmp_path: Path, hidden: str) -> None:
    assert has_unprintable(f"An{hidden}a")
    assert "person.a.name" in site_with(tmp_path, f"An{hidden}a")


@pytest.mark.parametrize("name", [*NAMES, "x" * LONGEST_NAME])
def test_names_of_people_everywhere_are_taken(tmp_path: Path, name: str) -> None:
    assert "person.a.name" not in site_with(tmp_path, name)


def test_a_name_that_is_too_long_is_refused(tmp_path: Path) -> None:
    assert "person.a.name" in site_with(tmp_path, "x" * (LONGEST_NAME + 1))


@pytest.mark.parametrize("hidden", [*TURNING, *CONTROLS, "\ud800"])
def test_in_a_text_a_mark_stands_for_it_and_lines_stay(hidden: str) -> None:
    assert printable_text(f"one\r\n\ttwo{hidden}three") == "one\r\n\ttwo?three"
    assert storable(f"one{hidden}two", 5) == "one?t"


@pytest.mark.parametrize("name", NAMES)
def test_what_people_write_is_stored_as_it_is(name: str) -> None:
    assert storable(name, 100) == name
