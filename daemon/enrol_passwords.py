"""The broker's file of user names and hashed passwords, as text: Mosquitto's form `name:$7$rounds$salt$hash`. Pure.

The hash is PBKDF2 with HMAC-SHA512 (RFC 8018), salt and hash in base64. The inner broker reads the same form.
"""

import base64
import binascii
import hashlib
import hmac
from typing import NamedTuple

ROUNDS = 1_000
"""Project choice: a password made here has 128 random bits, which no number of rounds makes any safer, and the broker
works through them for each connection."""
_HASH_BYTES = 64
_MOST_ROUNDS = 1_000_000


class Entry(NamedTuple):
    """One line of the file: a user name, and what was made of the password."""

    name: str
    stored: str


def hashed(password: str, salt: bytes, rounds: int = ROUNDS) -> str:
    """Give what the file keeps of a password."""
    found = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, rounds, _HASH_BYTES)
    return f"$7${rounds}${base64.b64encode(salt).decode()}${base64.b64encode(found).decode()}"


def is_right(stored: str, password: str) -> bool:
    """True where this is the password. Compared in constant time; what cannot be read is never right."""
    try:
        empty, kind, rounds, salt, wanted = stored.split("$")
        if empty or kind != "7" or not 0 < int(rounds) <= _MOST_ROUNDS:
            return False
        found = hashed(password, base64.b64decode(salt, validate=True), int(rounds)).rpartition("$")[2]
    except (ValueError, binascii.Error):
        return False
    return hmac.compare_digest(found, wanted)


def entries(text: str) -> dict[str, str]:
    """Give what the file keeps, by user name. Lines that are none are passed over."""
    found = (line.partition(":") for line in text.splitlines() if not line.startswith("#"))
    return {name: stored for name, colon, stored in found if name and colon}


def with_entry(text: str, entry: Entry) -> str:
    """Write an entry, in the place of an older one of that name; every other line stays as it is."""
    kept = without(text, entry.name)
    return f"{kept}{'' if not kept or kept.endswith(chr(10)) else chr(10)}{entry.name}:{entry.stored}\n"


def without(text: str, name: str) -> str:
    """Take an entry out; every other line stays as it is."""
    return "".join(line for line in text.splitlines(keepends=True) if not line.startswith(f"{name}:"))
