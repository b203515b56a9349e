"""The page of who changed what."""

import re
from html import unescape

import pytest

from daemon.storage import audit
from daemon.storage.audit import Change
from tests.support.called import CalledHouse
from tests.support.guarded import GuardedHouse

MARKUP = "<b>Ana</b><script>alert(1)</script>"


@pytest.fixture
def guarded(house: CalledHouse) -> GuardedHouse:
    return GuardedHouse(house)


def words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ").split())


def test_changes_are_listed_newest_first_by_page_and_of_one_thing(guarded: GuardedHouse) -> None:
    keeper = guarded.browser("ana")
    journal = guarded.house.journal
    for number in range(120):
        change = Change("ana", "192.0.2.7", "site", f"thing-{number % 2}", {"n": number}, {"n": MARKUP}, "because")
        journal.write(lambda conn, change=change: audit.record(conn, change, guarded.now_ms))  # type: ignore[misc]
    seen: list[str] = []
    path = "/set-up/audit"
    while path:
        page = keeper.get(path).text
        assert "<script>" not in page
        seen += re.findall(r'<li id="change-(\d+)">', page)
        found = re.search(r'id="older" class="far" href="([^"]+)"', page)
        path = unescape(found[1]) if found else ""
    assert seen == [str(each.event_id) for each in guarded.audited()]
    assert len(seen) > 120
    odd = keeper.get("/set-up/audit?about=thing-1").text
    assert "Changes of thing-1" in words(odd)
    assert "thing-0" not in odd
    for nonsense in ("x", "-1", "9" * 40, "²"):
        assert keeper.get(f"/set-up/audit?before={nonsense}").status_code == 404


def test_a_moment_is_told_by_the_clock_of_the_site_and_a_list_as_it_was(guarded: GuardedHouse) -> None:
    """1 780 000 000 s after the epoch is 2026-05-28 20:26:40 UTC, 22:26 in Madrid (summer time, UTC+2)."""
    keeper = guarded.browser("ana")
    change = Change("ana", "host", "site", "x", {}, {"until_ms": 1_780_000_000_000, "kinds": ["mail", "push"]})
    guarded.house.journal.write(lambda conn: audit.record(conn, change, guarded.now_ms))
    page = words(keeper.get("/set-up/audit?about=x").text)
    assert "until: Thu 28 May 2026, 22:26" in page
    assert 'kinds: ["mail", "push"]' in page
    assert "on the machine itself" in page


def test_of_a_changed_file_only_what_differs_is_shown(guarded: GuardedHouse) -> None:
    """Fifty changes of a file of 5 kB stay a page of less than 100 kB."""
    keeper = guarded.browser("ana")
    before = "".join(f"line {number} of the file\n" for number in range(250))
    after = before.replace("line 100 of the file", "line 100 is another one")
    for _ in range(50):
        change = Change("ana", "host", "site", "x", {"text": before}, {"text": after})
        guarded.house.journal.write(lambda conn, change=change: audit.record(conn, change, guarded.now_ms))  # type: ignore[misc]
    page = keeper.get("/set-up/audit?about=x").text
    assert "line 100 of the file" in page
    assert "line 100 is another one" in page
    assert "line 97 of the file" in page
    assert "line 96 of the file" not in page
    assert "line 104 of the file" not in page
    assert len(page) < 100_000
