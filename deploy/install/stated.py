"""What install.sh has to know of a site folder and of its journal. Imports nothing of the program.

stated.py journal SITE      the path of the journal
stated.py backups SITE      the folder of backups; nothing where none is stated
stated.py newest FOLDER     the newest whole backup in a folder, by its name
stated.py schema JOURNAL    the number of its newest migration; 0 where there is no journal
stated.py copy FROM TO      a copy as of one moment, also of a journal that is being written to, brought to the disk
"""

import os
import sqlite3
import sys
import tomllib
from contextlib import closing
from pathlib import Path
from urllib.parse import quote


def main(asked: str, *paths: str) -> int:
    """Print the answer. 1 with a sentence where it cannot be known."""
    answers = {"journal": journal, "backups": backups, "newest": newest, "schema": schema, "copy": copy}
    try:
        answer = answers[asked](*(Path(path) for path in paths))
    except (OSError, ValueError, sqlite3.Error) as error:
        sys.stderr.write(f"{paths[0]}: {error}\n")
        return 1
    if answer is not None:
        sys.stdout.write(f"{answer}\n")
    return 0


def journal(site: Path) -> Path:
    """Give the path of the journal, stated or not."""
    return site / str(_settings(site).get("storage", {}).get("journal", "data/journal.sqlite3"))


def backups(site: Path) -> Path | None:
    """Give the folder that backups go to, where one is stated."""
    folder = _settings(site).get("backup", {}).get("folder")
    return None if folder is None else site / str(folder)


def newest(folder: Path) -> Path | None:
    """Give the newest backup. Names begin with the moment, and one that is not whole begins with a dot."""
    whole = sorted(each.parent for each in folder.glob("[0-9]*/manifest.json"))
    return whole[-1] if whole else None


def schema(path: Path) -> int:
    """Give the number of the newest migration of a journal."""
    if not path.exists():
        return 0
    with closing(_read(path)) as conn:
        return int(conn.execute("SELECT max(number) FROM migration").fetchone()[0])


def copy(source: Path, target: Path) -> None:
    """Copy a journal; a target that is there already is left alone."""
    os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    with closing(_read(source)) as conn, closing(sqlite3.connect(target)) as copied:
        conn.backup(copied)
    number = os.open(target, os.O_RDWR)
    os.fsync(number)
    os.close(number)


def _settings(site: Path) -> dict[str, dict[str, object]]:
    file = site / "settings.toml"
    return tomllib.loads(file.read_text(encoding="utf-8-sig")) if file.exists() else {}


def _read(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
