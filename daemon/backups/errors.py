"""Why a backup could not be made, read or restored: what, where, why and what to do."""

import errno

_FULL = "Free some space there, or name another folder in [backup] of settings.toml."
_READ_ONLY = "Let the account that runs clutchwarden write there; a share may be mounted read-only."
_OTHER = "Look whether the disk or share is there and well, then try again."


class BackupError(Exception):
    """What failed, where, why, and what to do about it. `given`: what somebody typed is the cause."""

    def __init__(self, what: str, where: str, why: str, hint: str, *, given: bool = False) -> None:
        super().__init__(what, where, why, hint)
        self.what = what
        self.where = where
        self.why = why
        self.hint = hint
        self.given = given

    def __str__(self) -> str:
        return f"{self.what} ({self.where}): {self.why}. {self.hint}"


class BackupStoppedError(Exception):
    """It was told to end before it was done; nothing half-made is left."""


def explained(error: OSError, what: str, where: str) -> BackupError:
    """Give an error of the system in a keeper's words."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return BackupError(what, where, "the disk is full", _FULL)
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return BackupError(what, where, "nothing may be written there", _READ_ONLY)
    return BackupError(what, where, (error.strerror or type(error).__name__).lower(), _OTHER)
