"""What is kept in place of a secret: argon2id of passwords, SHA-256 of what was drawn at random."""

import base64
import hashlib
import hmac
import secrets

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

MEMORY_KIB = 46 * 1024
ROUNDS = 2
LANES = 1
"""At least 46 MiB with one round and one lane: OWASP ASVS 5.0, 11.4.2 and appendix C. The second round is our own."""

TOKEN_BYTES = 32
"""256 bits from the system's generator; ASVS 7.2.3 asks for 128."""
_SALT_BYTES = 16
_HASH_BYTES = 32
_HASHER = PasswordHasher(ROUNDS, MEMORY_KIB, LANES, _HASH_BYTES, _SALT_BYTES, type=Type.ID)


def _unpadded(raw: bytes) -> str:
    return base64.b64encode(raw).rstrip(b"=").decode("ascii")


_NO_SALT, _NO_HASH = _unpadded(bytes(_SALT_BYTES)), _unpadded(bytes(_HASH_BYTES))
_NOBODYS = f"$argon2id$v=19$m={MEMORY_KIB},t={ROUNDS},p={LANES}${_NO_SALT}${_NO_HASH}"
"""A hash that no password has, with our parameters: an unknown name costs as much time as a known one."""


def hash_password(password: str) -> str:
    """Give what to keep of a password; each time another one, since the salt is drawn anew."""
    return _HASHER.hash(_as_bytes(password))


def is_right(kept: str | None, password: str) -> bool:
    """True where this is the password. Takes as long where there is none to compare with."""
    try:
        _HASHER.verify(kept or _NOBODYS, _as_bytes(password))
    except (VerificationError, InvalidHashError):
        return False
    return kept is not None


def is_outdated(kept: str) -> bool:
    """True where the parameters have changed since: hash the password again while it is at hand."""
    return _HASHER.check_needs_rehash(kept)


def draw_token() -> str:
    """Draw what a cookie or a program carries."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def digest(token: str) -> str:
    """Give what to keep of a token. A plain hash is enough where there is nothing to guess (ASVS 6.5.2, 11.4.1)."""
    return hashlib.sha256(_as_bytes(token)).hexdigest()


def guard_of(token: str) -> str:
    """Give what the forms of a session carry. It follows from the token, so it is kept nowhere and ends with it."""
    return hmac.new(_as_bytes(token), b"clutchwarden guard of forms", hashlib.sha256).hexdigest()


def _as_bytes(text: str) -> bytes:
    """Half of a surrogate pair, which JSON may carry, is as good a character as any other."""
    return text.encode("utf-8", "surrogatepass")
