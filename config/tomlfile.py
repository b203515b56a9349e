"""Reads a TOML file; whatever is wrong with it becomes a mistake with line and column."""

import re
import tomllib
from pathlib import Path
from typing import Any

from config.errors import Mistake

_POSITION = re.compile(r"(?P<what>.*?) \((?:at )?(?P<where>line \d+, column \d+|end of document)\)", re.DOTALL)


def read_toml(path: Path, shown: str) -> tuple[dict[str, Any] | None, tuple[Mistake, ...]]:
    """Read one file; `shown` is its name in a mistake. None where it cannot be read, with the mistake beside it."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        reason, hint = "there is no such file", f"Create {shown}; a complete example comes with clutchwarden."
        if shown == "site.toml":
            hint = "Name the site folder with --site or CLUTCHWARDEN_SITE, or begin one: clutchwarden new FOLDER."
    except OSError as error:
        reason = f"the file cannot be read: {error.strerror}"
        hint = "Check that it is a file and that the user who runs clutchwarden may read it."
    except UnicodeDecodeError as error:
        reason = f"the file is not UTF-8 text (byte {error.start + 1})"
        hint = "Save it again as UTF-8; most editors ask for the encoding when saving."
    else:
        return parse_toml(text, shown)
    return None, (Mistake(shown, "", reason, hint),)


def parse_toml(text: str, shown: str) -> tuple[dict[str, Any] | None, tuple[Mistake, ...]]:
    """Read the text of a file, as `read_toml` does."""
    try:
        return tomllib.loads(text), ()
    except tomllib.TOMLDecodeError as error:
        hint = (
            "Look there and just before: text needs quotes, every bracket and quote its partner, every key one value."
        )
        return None, (Mistake(shown, "", _syntax(str(error)), hint),)


def _syntax(message: str) -> str:
    found = _POSITION.fullmatch(message)
    if found is None:
        return f"not valid TOML: {message}"
    return f"not valid TOML at {found['where']}: {found['what'].lower()}"
