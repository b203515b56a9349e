"""Names, codes, devices, life of a session, and what is kept in place of a secret."""

import re

import pytest

from daemon.access import hashing
from daemon.access.codes import as_drawn, draw_code
from daemon.access.devices import device_words
from daemon.access.names import mistake_in_name
from daemon.access.session_life import IDLE_MS, LIFE_MS, is_alive, is_to_be_seen
from daemon.access.values import AT_THE_DEMO
from daemon.access.welcome import welcome_text

DAY_MS = 86_400_000


@pytest.mark.parametrize("name", ["mara", "M", "mara.linden-2", "x_y", "a" * 64])
def test_a_name_is_like_an_id_of_the_site_file(name: str) -> None:
    assert mistake_in_name(name) is None


@pytest.mark.parametrize(
    "name",
    ["", " ", "mara linden", "-mara", "mära", "a" * 65, "a/b", "mara\n", "\ud800", AT_THE_DEMO, "Host", "nobody"],
)
def test_other_names_are_refused_at_their_field(name: str) -> None:
    refused = mistake_in_name(name)
    assert refused is not None
    assert refused.field == "name"


def test_a_code_is_in_groups_of_signs_that_are_not_taken_for_each_other() -> None:
    codes = {draw_code() for _ in range(200)}
    assert len(codes) == 200
    assert all(re.fullmatch(r"[0-9A-HJKMNP-TV-Z]{4}(-[0-9A-HJKMNP-TV-Z]{4}){5}", code) for code in codes)


def test_a_code_has_so_many_bits_that_a_plain_hash_keeps_it() -> None:
    """ASVS 5.0, 6.5.2: 112 bits; 32 signs are 5 bits each."""
    assert len(as_drawn(draw_code())) * 5 >= 112


@pytest.mark.parametrize(
    "typed",
    [
        "01AB-CDEF-GHJK-MNPQ-RSTV-WXYZ",
        "0iab cdef ghjk mnpq rstv wxyz\n",
        " olABCDEFGHJKMNPQRSTVWXYZ",
        "OLAB.CDEF_ghjkmnpqrstvwxyz",
    ],
)
def test_a_code_may_be_typed_in_small_letters_with_spaces_or_with_signs_mistaken(typed: str) -> None:
    assert as_drawn(typed) == "01ABCDEFGHJKMNPQRSTVWXYZ"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox, Linux"),
        (
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko)"
                " Version/18.5 Mobile/15E148 Safari/604.1"
            ),
            "Safari, iPhone",
        ),
        (
            (
                "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile"
                " Safari/537.36"
            ),
            "Chrome, Android",
        ),
        ("python-httpx/0.28", "python-httpx/0.28"),
        ("x" * 500, "x" * 60),
        ("", "unknown"),
    ],
)
def test_a_device_in_a_few_words(said: str, words: str) -> None:
    assert device_words(said) == words


def test_a_session_lasts_30_days_and_14_without_a_visit() -> None:
    assert (LIFE_MS, IDLE_MS) == (30 * DAY_MS, 14 * DAY_MS)
    assert is_alive(0, LIFE_MS, IDLE_MS - 1)
    assert not is_alive(0, LIFE_MS, IDLE_MS)
    assert is_alive(LIFE_MS - 1, LIFE_MS, LIFE_MS - 1)
    assert not is_alive(LIFE_MS - 1, LIFE_MS, LIFE_MS)


def test_a_clock_set_back_ends_no_session_and_it_is_seen_again() -> None:
    assert is_alive(100 * DAY_MS, 130 * DAY_MS, 0)
    assert is_to_be_seen(100 * DAY_MS, 0)
    assert not is_to_be_seen(0, 299_999)
    assert is_to_be_seen(0, 300_000)


@pytest.mark.usefixtures("full_work")
def test_passwords_are_kept_as_the_source_asks() -> None:
    """ASVS 5.0, 11.4.2 and appendix C: argon2id, at least 46 MiB with one round and one lane."""
    found = re.match(r"\$argon2id\$v=19\$m=(\d+),t=(\d+),p=(\d+)\$", hashing.hash_password("heat lamp over wet moss"))
    assert found is not None
    memory_kib, rounds, lanes = (int(each) for each in found.groups())
    assert memory_kib >= 46 * 1024
    assert rounds >= 1
    assert lanes == 1


@pytest.mark.usefixtures("full_work")
def test_each_password_is_salted_and_compared_whole() -> None:
    kept = hashing.hash_password("a" * 255 + "b")
    assert kept != hashing.hash_password("a" * 255 + "b")
    assert hashing.is_right(kept, "a" * 255 + "b")
    assert not hashing.is_right(kept, "a" * 255 + "c")
    assert not hashing.is_right(kept, "a" * 255)
    assert not hashing.is_right(None, "a" * 255)
    assert not hashing.is_right("damaged", "a" * 255)


@pytest.mark.usefixtures("full_work")
def test_a_hash_with_lower_parameters_is_outdated() -> None:
    kept = hashing.hash_password("x")
    assert not hashing.is_outdated(kept)
    assert hashing.is_outdated(kept.replace(f"m={hashing.MEMORY_KIB}", "m=8192"))


def test_tokens_are_kept_as_sha_256() -> None:
    """FIPS 180-4, example of one block: "abc"."""
    assert hashing.digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_tokens_are_drawn_anew_and_their_guards_tell_nothing_of_them() -> None:
    tokens = {hashing.draw_token() for _ in range(100)}
    assert len(tokens) == 100
    assert all(len(token) * 6 >= 256 for token in tokens)
    guards = {hashing.guard_of(token) for token in tokens}
    assert len(guards) == 100
    assert not guards & {hashing.digest(token) for token in tokens}


def test_the_first_code_comes_with_what_to_do() -> None:
    assert welcome_text("CODE", "https://eggs.example.org/").splitlines() == [
        "No account yet. Open https://eggs.example.org/welcome and enter this code: CODE",
        "It is good for 1 hour, once. A new one: clutchwarden access first",
    ]
