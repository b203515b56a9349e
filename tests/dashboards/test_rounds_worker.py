"""What the worker of rounds shows where nothing answers: a page that needs nothing but what is kept with it."""

import json
import re

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
