"""The script that lets a browser open the pages of a round again while there is no connection."""

import hashlib
import json
from functools import cache

from dashboards.rendering import HELPS, STATIC, asset, render
from dashboards.rounds_paths import ROUNDS_PATH
from dashboards.security import SECURITY_HEADERS

_WORKER = "round-worker.js"
_SHEETS = ("page.css", "round.css", "icon.svg")
_NAMED = (*_SHEETS, "round.js", "round-unreached.js")
"""What pages name themselves, with the mark of its content."""


@cache
def worker_script() -> str:
    """Give the script, with the addresses that it keeps, the page without a connection, and the mark of all of it."""
    scripts = sorted([each.name for each in STATIC.glob("round*.js") if each.name != _WORKER] + [HELPS])
    # Scripts load each other by their plain names.
    kept = [*(asset(name) for name in _NAMED), *(f"/static/{name}" for name in scripts)]
    text = (STATIC / _WORKER).read_text(encoding="utf-8")
    page = render("round_unreached.html")
    whole = text + page + "".join((STATIC / name).read_text(encoding="utf-8") for name in (*scripts, *_SHEETS))
    version = hashlib.blake2b(whole.encode(), digest_size=6).hexdigest()
    stated: dict[str, object] = {"VERSION": version, "KEPT": kept, "ROUNDS": ROUNDS_PATH}
    stated |= {"NO_CONNECTION": page, "HEADERS": dict(SECURITY_HEADERS)}
    head = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in stated.items())
    return f"{head}{text}"
