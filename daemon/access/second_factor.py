"""The second factor: six digits from an authenticator program, by RFC 6238. Pure; `now_ms` is UTC ms."""

import re

import pyotp

STEP_S = 30
DIGITS = 6
ISSUER = "clutchwarden"
_SECRET_SIGNS = 32
"""160 bits in base32, what RFC 4226 section 4 recommends."""


def draw_secret() -> str:
    """Draw a secret for an authenticator program."""
    return pyotp.random_base32(_SECRET_SIGNS)


def is_secret(text: str) -> bool:
    """True for what `draw_secret` may have given."""
    return re.fullmatch(f"[A-Z2-7]{{{_SECRET_SIGNS}}}", text) is not None


def uri_of(secret: str, name: str, site_name: str) -> str:
    """Give the address that an authenticator program reads from a QR code."""
    totp = pyotp.TOTP(secret, digits=DIGITS, interval=STEP_S)
    return totp.provisioning_uri(name=name, issuer_name=f"{ISSUER} {site_name}".strip())


def matching_step(secret: str, typed: str, now_ms: int, used_step: int | None) -> int | None:
    """Give the time step whose code this is; None where it is none of now, or was used before (ASVS 6.5.1).

    A code of one step before or after is taken: RFC 6238 section 5.2 allows for that much delay, and clocks differ.
    `used_step` is the newest that was used. One far ahead of now was used by a clock that was wrong, and counts for
    nothing, or its owner could not sign in until then.
    """
    digits = re.sub(r"\s", "", typed)
    if re.fullmatch(rf"[0-9]{{{DIGITS}}}", digits) is None:
        return None
    totp = pyotp.TOTP(secret, digits=DIGITS, interval=STEP_S)
    now_step = now_ms // 1000 // STEP_S
    used = -1 if used_step is None or used_step > now_step + 1 else used_step
    for step in (now_step, now_step - 1, now_step + 1):
        if step > used and pyotp.utils.strings_equal(totp.generate_otp(step), digits):
            return step
    return None
