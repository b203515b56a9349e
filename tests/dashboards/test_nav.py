"""The way between the pages: only what there is, and where one is."""

import re

from dashboards.nav import PATHS, nav_links
from tests.dashboards import samples
from tests.dashboards.asking import ask, pages
from tests.support.called import HIGH, CalledHouse


def test_only_pages_that_there_are_are_named_in_their_order() -> None:
    assert [each.name for each in nav_links({"/messages", "/", "/alarms", "/a"}, "/")] == ["Now", "Alarms", "Messages"]
    # Messages are reached from the set-up, where there is one.
    assert [each.path for each in nav_links(set(PATHS), "/")] == [path for path in PATHS if path != "/messages"]
    assert nav_links({"/"}, "/") == ()
    assert nav_links(set(), "/") == ()


def test_the_page_itself_is_marked_and_one_below_it_otherwise() -> None:
    def marked(current: str) -> dict[str, str]:
        return {each.path: each.current for each in nav_links(set(PATHS), current) if each.current}

    assert marked("/") == {"/": "page"}
    assert marked("/alarms") == {"/alarms": "page"}
    assert marked("/alarms/journal") == {"/alarms": "true"}
    assert marked("/messages") == {"/set-up": "true"}
    assert marked("/set-up/probes") == {"/set-up": "true"}
    assert marked("/alarmsfoo") == {}
    assert marked("/inbox") == {}


def links(html: str) -> list[str]:
    found = re.search(r'<nav class="pages".*?</nav>', html, re.DOTALL)
    return re.findall(r'href="([^"]+)"', found[0]) if found else []


def test_each_page_has_the_links_of_its_own_app(drifted: CalledHouse) -> None:
    with_messages = pages(samples.overview(), messages=samples.messages())
    for _ in range(2):
        assert links(ask(with_messages, "/").text) == ["/", "/messages"]
        assert links(ask(with_messages, "/messages").text) == ["/", "/messages"]
        assert links(ask(pages(samples.overview()), "/").text) == []
        for path in ("/", "/alarms", f"/alarms/of/{HIGH}", "/alarms/journal", "/alarms/metrics", "/alarms/of/none:x"):
            assert "/alarms" in links(ask(drifted.app, path).text)
    assert 'href="/alarms" aria-current="page"' in ask(drifted.app, "/alarms").text
    assert 'href="/alarms" aria-current="true"' in ask(drifted.app, "/alarms/metrics").text


def test_what_cannot_be_shown_comes_without_links_and_without_a_fault() -> None:
    assert ask(pages(samples.overview()), "/nothing").status_code == 404
