"""Passwords hashed with little work, for the hundreds of tests that are about something else.

It is argon2id all the same, with its least memory and one round. Tests of the work itself ask for `full_work`.
"""

import pytest
from argon2 import PasswordHasher, Type

from daemon.access import hashing

_FULL, _FULL_NOBODYS = hashing._HASHER, hashing._NOBODYS
_LEAST_KIB = 8
_LITTLE = PasswordHasher(1, _LEAST_KIB, 1, hashing._HASH_BYTES, hashing._SALT_BYTES, type=Type.ID)


def with_little_work(patch: pytest.MonkeyPatch) -> None:
    """Hash so in this process; also what stands for the hash of a name that nobody has."""
    full, little = (
        f"m={memory},t={rounds}," for memory, rounds in ((hashing.MEMORY_KIB, hashing.ROUNDS), (_LEAST_KIB, 1))
    )
    assert full in _FULL_NOBODYS
    patch.setattr(hashing, "_HASHER", _LITTLE)
    patch.setattr(hashing, "_NOBODYS", _FULL_NOBODYS.replace(full, little))


def with_full_work(patch: pytest.MonkeyPatch) -> None:
    """Hash as clutchwarden does."""
    patch.setattr(hashing, "_HASHER", _FULL)
    patch.setattr(hashing, "_NOBODYS", _FULL_NOBODYS)
