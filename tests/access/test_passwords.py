"""Which passwords are taken. Lengths are those of NIST SP 800-63B-4 section 3.1.1.2; the most is a project choice."""

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.access import passwords
from daemon.access.values import Refused

CONTEXT = ("mara", "Alder Lane hatchery", "Mara Linden")
GOOD = "heat lamp over wet moss"


def reason(password: str, *, second: bool = False) -> str:
    refused = passwords.mistake_in(password, CONTEXT, has_second_factor=second)
    assert isinstance(refused, Refused)
    assert refused.field == "password"
    return refused.reason


@pytest.mark.parametrize(
    "password",
    [
        GOOD,
        "ringelnatter im hohen schilf",
        "蛇の卵は静かに待っている場所が好き",
        "  heat lamp over wet moss  ",
        "🦎 lamp 🥚 moss 🌡 cart",
        "q7\x00tz\tkw\u200bplovm xr",
        "heat lamp over wet moss " + "a" * 200,
        "a" * 200 + " heat lamp over wet moss",
    ],
)
def test_any_characters_are_taken(password: str) -> None:
    assert passwords.mistake_in(password, CONTEXT) is None


@given(st.text(max_size=14))
@settings(max_examples=50)
def test_fewer_than_15_are_not(password: str) -> None:
    assert "15 are needed" in reason(unicodedata.normalize("NFD", password)[:14])


def test_with_a_second_factor_8_are_enough_and_7_are_not() -> None:
    assert passwords.mistake_in("7tk2-9xqd", CONTEXT, has_second_factor=True) is None
    assert "8 are needed" in reason("7tk29xq", second=True)
    assert "15 are needed" in reason("7tk2-9xqd")


def test_256_are_taken_and_257_are_not() -> None:
    assert passwords.mistake_in((GOOD * 20)[:256], CONTEXT) is None
    assert "256 are the most" in reason((GOOD * 20)[:257])


@pytest.mark.parametrize(
    "password",
    [
        "passwordpassword",
        "aaaaaaaaaaaaaaaa",
        "qwertyuiopasdfghj",
        "123456789012345678",
        "iloveyouiloveyou",
        "alderlanehatchery",
        "Alder-Lane-Hatchery-1",
        "maramaramaramara",
        "clutchwardenclutchwarden",
        "Mara.Linden.2026",
    ],
)
def test_what_somebody_would_try_first_is_not_taken_and_the_text_says_what_to_do(password: str) -> None:
    assert "four or five words" in reason(password)


def test_two_ways_to_write_one_letter_are_one_password() -> None:
    """U+00E9 and U+0065 U+0301 are canonically equivalent (Unicode Standard Annex 15)."""
    assert passwords.as_kept("nest\u00e9e") == passwords.as_kept("neste\u0301e")
    assert passwords.as_kept(" Nest ") == " Nest "
