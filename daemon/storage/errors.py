"""What can go wrong with the journal, in words that a keeper can act on."""

import sqlite3

_FULL = (
    "the disk is full",
    "Free some space. What was stored stays stored, and writing goes on by itself once there is room.",
)
_INPUT_OUTPUT = (
    "the disk reports an input/output error",
    "Check the disk, card or cable, and have a backup ready. Writing goes on by itself once the disk answers again.",
)
_READ_ONLY = (
    "the file, its folder or the whole disk may only be read",
    "Let clutchwarden's account write to file and folder. Replace a memory card that became read-only by itself.",
)
_LOCKED = (
    "another program kept the journal locked for too long",
    "Close other programs that have the file open (a copy, a database viewer) and try again.",
)
_NOT_A_JOURNAL = (
    "the file is not a journal, or its beginning is damaged",
    "The file was left as it is. Move it away and put a backup in its place, or name another file in settings.toml.",
)
_DAMAGED = (
    "the file is damaged",
    "Stop clutchwarden, keep a copy of the file as it is, and put a backup in its place.",
)
_CANNOT_OPEN = (
    "the file cannot be opened",
    "Check that the folder exists and that the account that runs clutchwarden may read and write there.",
)

_CAUSES = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR: _INPUT_OUTPUT,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_BUSY: _LOCKED,
    sqlite3.SQLITE_LOCKED: _LOCKED,
    sqlite3.SQLITE_PROTOCOL: _LOCKED,
    sqlite3.SQLITE_NOTADB: _NOT_A_JOURNAL,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_CANTOPEN: _CANNOT_OPEN,
    sqlite3.SQLITE_PERM: _CANNOT_OPEN,
}


class JournalError(Exception):
    """The journal could not do what was asked: what failed, where, why, and what to do about it."""

    def __init__(self, what: str, where: str, why: str, hint: str) -> None:
        super().__init__(what, where, why, hint)
        self.what = what
        self.where = where
        self.why = why
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.what} ({self.where}): {self.why}. {self.hint}"


class JournalClosedError(JournalError):
    """The journal was used after it had been closed."""

    def __init__(self, where: str) -> None:
        super().__init__(
            "cannot use the journal", where, "it is closed already", "Start the program again; if it stays, report it."
        )

    def __reduce__(self) -> tuple[type["JournalClosedError"], tuple[str]]:
        return type(self), (self.where,)


def primary_code(error: sqlite3.Error) -> int:
    """Give the primary SQLite result code of an error; SQLITE_ERROR where it carries none."""
    return getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF


def is_locked(error: sqlite3.Error) -> bool:
    """Tell whether somebody else held the journal, so that nothing is wrong with our own connection."""
    return _CAUSES.get(primary_code(error)) is _LOCKED


def explained(error: sqlite3.Error, what: str, where: str) -> JournalError | None:
    """Give the error in a keeper's words; None where the caller's statement is the cause, not disk, file or lock."""
    cause = _CAUSES.get(primary_code(error))
    return None if cause is None else JournalError(what, where, *cause)
