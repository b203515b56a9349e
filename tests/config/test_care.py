"""What a site states about rounds and hatching."""

from pathlib import Path

import pytest

from config.site import Care, load_site, read_site

HEAD = '[site]\nname = "Here"\ntime_zone = "UTC"\n'


def site(folder: Path, care: str) -> Path:
    (folder / "site.toml").write_text(HEAD + care, encoding="utf-8")
    return folder


def test_a_site_that_says_nothing_has_a_week_of_both(tmp_path: Path) -> None:
    assert load_site(site(tmp_path, "")).care == Care(round_every_days=7, near_pipping_days=7)


def test_a_site_says_how_often_and_how_long_before(tmp_path: Path) -> None:
    found = load_site(site(tmp_path, "[care]\nround_every_days = 3.5\nnear_pipping_days = 0\n")).care
    assert (found.round_every_days, found.near_pipping_days) == (3.5, 0)


@pytest.mark.parametrize(
    ("stated", "key"),
    [
        ("round_every_days = 0", "care.round_every_days"),
        ("round_every_days = -7", "care.round_every_days"),
        ('round_every_days = "weekly"', "care.round_every_days"),
        ("round_every_days = inf", "care.round_every_days"),
        ("round_every_days = 1000", "care.round_every_days"),
        ("near_pipping_days = -1", "care.near_pipping_days"),
        ("round_every = 7", "care.round_every"),
    ],
)
def test_what_cannot_be_meant_is_named_with_its_key(tmp_path: Path, stated: str, key: str) -> None:
    found = read_site(site(tmp_path, f"[care]\n{stated}\n"))
    assert found.site is None
    assert [mistake.key for mistake in found.mistakes if mistake.severity == "mistake"] == [key]
