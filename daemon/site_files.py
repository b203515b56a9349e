"""The files of a site folder as they are written from a page: whole or not at all, and secrets for one reader alone."""

import contextlib
import errno
import os
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Self

from config.errors import Mistake
from config.rules import FILE

SECRETS = "secrets"
_OPEN_FOLDER = 0o700
_FOR_US_ALONE = 0o600
_MARK = ".site.toml."
CHANGED_MEANWHILE = "site.toml was changed since this page was made, so nothing was done"
LOOK_AGAIN = "Look at what stands there now, and make your change again if it is still needed."
_LONGEST_START = 40
"""Signs of a person's id in the name of a file: no file system takes names without end."""
_FULL = "Free some space on the disk, then try again."
_READ_ONLY = (
    "Let the account that runs clutchwarden write into the folder of site.toml, or change the file with an editor and "
    "start clutchwarden again."
)


class SiteFileError(Exception):
    """A file of the site folder cannot be read or written; the mistake says why and what to do."""

    def __init__(self, mistake: Mistake) -> None:
        super().__init__(mistake)
        self.mistake = mistake


def read_site_file(folder: Path) -> str:
    """Read site.toml as it is, with its line ends. Raises SiteFileError."""
    try:
        return (folder / FILE).read_bytes().decode("utf-8")
    except OSError as error:
        raise _cannot("read", FILE, error) from error
    except UnicodeDecodeError as error:
        hint = "Save it again as UTF-8; most editors ask for the encoding when saving."
        raise SiteFileError(Mistake(FILE, "", "the file is not UTF-8 text", hint)) from error


class SiteFileChangedError(SiteFileError):
    """Somebody else wrote into site.toml meanwhile; it is left as they wrote it."""

    def __init__(self) -> None:
        super().__init__(Mistake(FILE, "", CHANGED_MEANWHILE, LOOK_AGAIN))


class Replacement:
    """A new text for site.toml that lies beside it, ready; what stands there goes, or comes back, in one step.

    `before` is the text that the new one was made of: anything else that stands there is left alone. A kill at any
    moment leaves the old file or the new one. Both may leave a hidden file behind, which the next change
    removes.
    """

    def __init__(self, folder: Path, before: str, text: str) -> None:
        # Where the file is a link, what it leads to is exchanged.
        self._path = (folder / FILE).resolve()
        self._before = before.encode("utf-8")
        self._text = text.encode("utf-8")
        self._new: Path | None = None
        self._old: Path | None = None
        self._put = False

    def __enter__(self) -> Self:
        """Write both beside the file. Raises SiteFileError, with nothing changed."""
        try:
            for left in self._path.parent.glob(f"{_MARK}*"):
                left.unlink(missing_ok=True)
            self._old = self._written(self._before, "old")
            self._new = self._written(self._text, "new")
        except OSError as error:
            self._clear()
            raise _cannot("change", FILE, error) from error
        return self

    def put(self) -> None:
        """Put the new text in its place. Raises SiteFileError; SiteFileChangedError where another text stands there."""
        if self._new is None:
            raise AssertionError("a replacement is put while it is open")
        try:
            # An editor may have saved while this waited: the last moment to see it.
            if self._path.read_bytes() != self._before:
                raise SiteFileChangedError
            self._new.replace(self._path)
            self._put = True
            _sync_folder(self._path.parent)
        except OSError as error:
            raise _cannot("change", FILE, error) from error

    def keep(self) -> None:
        """From here on the new text stays."""
        self._put = False

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        """Put the old text back where the new one is not to stay."""
        if self._put and self._old is not None and self._path.read_bytes() == self._text:
            self._old.replace(self._path)
            _sync_folder(self._path.parent)
        self._clear()

    def _written(self, content: bytes, what: str) -> Path:
        stands = self._path.stat()
        number, name = tempfile.mkstemp(prefix=_MARK, suffix=f".{what}", dir=self._path.parent)
        try:
            with os.fdopen(number, "wb") as file:
                with contextlib.suppress(PermissionError):
                    os.fchown(file.fileno(), stands.st_uid, stands.st_gid)
                os.fchmod(file.fileno(), stands.st_mode & 0o777)
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
        return Path(name)

    def _clear(self) -> None:
        for path in (self._new, self._old):
            if path is not None:
                with contextlib.suppress(OSError):
                    path.unlink(missing_ok=True)


def free_secret(folder: Path, person_id: str) -> str:
    """Give a name below `secrets` that no file has."""
    taken, start = 1, person_id[:_LONGEST_START]
    while (folder / SECRETS / f"{start}-{taken}").exists():
        taken += 1
    return f"{SECRETS}/{start}-{taken}"


def keep_secret(folder: Path, name: str, secret: str) -> None:
    """Write an address into a new file that nobody else may read. Raises SiteFileError, never with the address."""
    path = folder / name
    try:
        path.parent.mkdir(mode=_OPEN_FOLDER, exist_ok=True)
        number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _FOR_US_ALONE)
        with os.fdopen(number, "w", encoding="utf-8") as file:
            file.write(f"{secret.strip()}\n")
            file.flush()
            os.fsync(file.fileno())
        _sync_folder(path.parent)
    except OSError as error:
        if error.errno != errno.EEXIST:
            remove_secret(folder, name)
        raise _cannot("write", name, error) from error


def remove_secret(folder: Path, name: str) -> None:
    """Take away a file that was written for a change that was not made."""
    with contextlib.suppress(OSError):
        (folder / name).unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """The name of a file is safe only when its folder is."""
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _cannot(do: str, file: str, error: OSError) -> SiteFileError:
    why = (error.strerror or str(error)).lower()
    hint = _FULL if error.errno in (errno.ENOSPC, errno.EDQUOT) else _READ_ONLY
    return SiteFileError(Mistake(file, "", f"{file} cannot be {_DONE[do]}: {why}", hint))


_DONE = {"read": "read", "change": "changed, and is as it was", "write": "written"}
