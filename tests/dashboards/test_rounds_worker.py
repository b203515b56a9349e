"""What the worker of rounds shows where nothing answers: a page that needs nothing but what is kept with it."""

import json
import re

from dashboards.rendering import asset
from dashboards.rounds_worker import worker_script
from dashboards.security import SECURITY_HEADERS


def test_the_page_without_a_connection_is_drawn_by_what_is_kept_and_may_what_every_page_may() -> None:
    text = worker_script()
    kept, page, headers = (
        json.loads(found[1])
        for name in ("KEPT", "NO_CONNECTION", "HEADERS")
        if (found := re.search(rf"const {name} = (.*);\n", text))
    )
    named = re.findall(r'(?:href|src)="([^"#]+)"', page)
    assert len(named) >= 4
    assert set(named) <= set(kept)
    assert headers == SECURITY_HEADERS
    # Nothing is inline, which those headers would forbid.
    assert not re.search(r"<style|<script(?![^>]*\bsrc=)|\bstyle=|\bon\w+=", page)


def test_the_mark_of_a_script_is_that_of_all_that_are_loaded_with_it() -> None:
    # The worker tells by it whether a page is of another version, also where only a script that it loads has changed.
    first, second = (asset(name).partition("?v=")[2] for name in ("round.js", "round-unreached.js"))
    assert first == second
