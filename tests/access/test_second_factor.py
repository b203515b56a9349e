"""Codes of the second factor, against the test vectors of RFC 6238."""

import base64
from urllib.parse import parse_qs, unquote, urlsplit

import pytest

from daemon.access import second_factor
from daemon.access.second_factor import matching_step

SECRET = base64.b32encode(b"12345678901234567890").decode()
"""RFC 6238 appendix B, the seed of HMAC-SHA-1."""
VECTORS = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]
"""RFC 6238 appendix B: seconds since the epoch and eight digits. Six digits are the last six of them, by the modulo of
RFC 4226 section 5.3."""


@pytest.mark.parametrize(("at_s", "eight"), VECTORS)
def test_the_codes_are_those_of_the_standard(at_s: int, eight: str) -> None:
    assert matching_step(SECRET, eight[-6:], at_s * 1000, None) == at_s // 30


@pytest.mark.parametrize("off_steps", [-1, 1])
def test_a_code_of_the_step_before_or_after_is_taken(off_steps: int) -> None:
    assert matching_step(SECRET, "005924", (1234567890 + off_steps * 30) * 1000, None) == 1234567890 // 30


@pytest.mark.parametrize("off_steps", [-2, 2, 100])
def test_a_code_of_another_time_is_not(off_steps: int) -> None:
    assert matching_step(SECRET, "005924", (1234567890 + off_steps * 30) * 1000, None) is None


def test_a_code_is_good_once_and_so_are_those_before_it() -> None:
    now_ms, step = 1234567890_000, 1234567890 // 30
    assert matching_step(SECRET, "005924", now_ms, step - 1) == step
    assert matching_step(SECRET, "005924", now_ms, step) is None
    assert matching_step(SECRET, "005924", now_ms, step + 1) is None


def test_a_step_that_a_wrong_clock_used_far_ahead_keeps_nobody_out() -> None:
    assert matching_step(SECRET, "005924", 1234567890_000, 1234567890 // 30 + 1_000_000) is not None


@pytest.mark.parametrize("typed", ["", "00592", "0059241", "x05924", "\uff10\uff10\uff15\uff19\uff12\uff14", "-05924"])
def test_what_is_no_six_digits_is_no_code(typed: str) -> None:
    assert matching_step(SECRET, typed, 1234567890_000, None) is None


def test_digits_may_have_a_space_between_them_as_programs_show_them() -> None:
    assert matching_step(SECRET, " 005 924 ", 1234567890_000, None) is not None


def test_a_secret_has_the_length_that_rfc_4226_recommends_and_is_drawn_anew() -> None:
    first, second = second_factor.draw_secret(), second_factor.draw_secret()
    assert first != second
    assert len(base64.b32decode(first)) * 8 == 160
    assert second_factor.is_secret(first)


@pytest.mark.parametrize("text", ["", "A" * 31, "A" * 33, "a" * 32, "1" * 32, "A" * 32 + "\n"])
def test_what_was_never_drawn_is_no_secret(text: str) -> None:
    assert not second_factor.is_secret(text)


def test_the_address_for_the_qr_code_has_what_an_authenticator_needs() -> None:
    parts = urlsplit(second_factor.uri_of(SECRET, "mara", "Alder Lane: hatchery & co"))
    assert (parts.scheme, parts.netloc) == ("otpauth", "totp")
    assert unquote(parts.path).endswith(":mara")
    assert parse_qs(parts.query)["secret"] == [SECRET]
    assert "Alder Lane" in parse_qs(parts.query)["issuer"][0]
