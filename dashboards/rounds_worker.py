"""The script that lets a browser open the pages of a round again while there is no connection."""

import hashlib
import json
from functools import cache

from dashboards.rendering import STATIC, asset
from dashboards.rounds_paths import ROUNDS_PATH, WORKER_PATH

_WORKER = "round-worker.js"
_SHEETS = ("page.css", "round.css", "icon.svg")


@cache
def worker_script() -> str:
    """Give the script, with the addresses that it keeps, and the mark of all that they give."""
    scripts = sorted(each.name for each in STATIC.glob("round*.js") if each.name != _WORKER)
    # Scripts load each other by their plain names.
    kept = [*(asset(name) for name in _SHEETS), asset("round.js"), *(f"/static/{name}" for name in scripts)]
    text = (STATIC / _WORKER).read_text(encoding="utf-8")
    whole = text + "".join((STATIC / name).read_text(encoding="utf-8") for name in (*scripts, *_SHEETS))
    version = hashlib.blake2b(whole.encode(), digest_size=6).hexdigest()
    stated = {"VERSION": version, "KEPT": kept, "ROUNDS": ROUNDS_PATH, "WORKER": WORKER_PATH}
    head = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in stated.items())
    return f"{head}{text}"
