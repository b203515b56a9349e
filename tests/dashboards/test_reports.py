"""Reports at the pages: who may fetch them, what they are, and that a few at once do not become many."""

import io
import os
import subprocess
import threading
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, tzinfo
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from config.errors import StatedError
from daemon.report_bundle import Bundle, Piece, text_piece
from dashboards.reports_paths import month_path, season_path
from dashboards.reports_routes import MOST_AT_ONCE, reports_router
from tests.dashboards.asking import ask
from tests.support.processes import free_port, wait_until
from tests.support.whole import WholeHouse, whole_house


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WholeHouse]:
    with whole_house(tmp_path_factory.mktemp("whole")) as made:
        yield made


def test_the_page_lists_months_and_seasons_and_is_led_to(house: WholeHouse) -> None:
    page = house.look("/reports")
    assert page.status_code == 200
    links = [each.split('"')[0] for each in page.text.split('href="')[1:] if each.startswith("/reports/")]
    assert links
    for link in links:
        found = ask(house.app, link, headers=house.viewer)
        assert (found.status_code, found.headers["content-type"]) == (200, "application/zip")
        assert found.headers["content-disposition"].startswith("attachment; filename=")
    told = ask(house.app, "/api/reports", headers=house.viewer).json()
    assert sorted(each["path"] for kind in told.values() for each in kind) == sorted(links)
    assert 'href="/reports"' in house.look("/set-up").text
    assert 'href="/clutches/1/record.zip"' in house.look("/clutches/1").text


def test_a_viewer_may_fetch_the_record_of_a_clutch_and_its_sums_hold(house: WholeHouse, tmp_path: Path) -> None:
    found = ask(house.app, "/clutches/1/record.zip", headers=house.viewer)
    assert found.status_code == 200
    assert "content-encoding" not in found.headers
    with zipfile.ZipFile(io.BytesIO(found.content)) as packed:
        packed.extractall(tmp_path)
    [folder] = list(tmp_path.iterdir())
    subprocess.run(["sha256sum", "--check", "--quiet", "--strict", "SHA256SUMS"], cwd=folder, check=True)
    text = (folder / "report.html").read_text(encoding="utf-8")
    assert "Record of clutch" in text
    assert "<script" not in text


@pytest.mark.parametrize("path", ["/reports", "/clutches/1/record.zip", month_path("2026-05"), season_path("2026")])
def test_a_stranger_gets_none(house: WholeHouse, path: str) -> None:
    found = ask(house.app, path, headers={"Host": "127.0.0.1"})
    assert found.status_code in (303, 401)
    assert b"PK" not in found.content[:4]


@pytest.mark.parametrize(
    "path",
    ["/clutches/999/record.zip", "/clutches/x/record.zip", month_path("2011-01"), month_path("x"), season_path("2199")],
)
def test_what_there_is_not_has_a_way_back(house: WholeHouse, path: str) -> None:
    found = house.look(path)
    assert found.status_code == 404
    assert "All clutches" in found.text or "All reports" in found.text


class Endless:
    """Reports that go on for ever, and one that is short."""

    zone: tzinfo = UTC

    def __init__(self) -> None:
        self.begun = self.ended = 0

    def now_ms(self) -> int:
        return 1_780_000_000_000

    def months(self) -> list[str]:
        return ["2026-05"]

    def seasons(self) -> list[str]:
        return []

    def clutch(self, _number: int) -> Bundle | None:
        return None

    def month(self, _text: str) -> Bundle:
        return Bundle("month", (Piece("endless.csv", self._chunks),))

    def season(self, text: str) -> Bundle:
        if text != "2026":
            raise StatedError("no such season", "another one")
        return Bundle("season", (text_piece("a.txt", "a"),))

    def _chunks(self) -> Iterator[bytes]:
        self.begun += 1
        try:
            while True:
                # What cannot be packed fills the connection soon.
                yield os.urandom(200_000)
        finally:
            self.ended += 1


@contextmanager
def served(desk: Endless) -> Iterator[str]:
    """A real server, so that somebody can go away in the middle."""
    app, port = FastAPI(), free_port()
    app.include_router(reports_router(desk))
    server = uvicorn.Server(uvicorn.Config(app, port=port, log_level="error", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        wait_until(lambda: server.started, "the server")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join()


def test_a_few_are_written_at_once_and_whoever_goes_away_gives_the_turn_back() -> None:
    desk = Endless()
    with served(desk) as url, httpx.Client(base_url=url) as client:
        open_ones = [client.stream("GET", month_path("2026-05")) for _ in range(MOST_AT_ONCE)]
        answers = [each.__enter__() for each in open_ones]
        wait_until(lambda: desk.begun == MOST_AT_ONCE, "both to be written")
        refused = client.get(season_path("2026"))
        assert refused.status_code == 503
        assert "Other reports are being written" in refused.text
        assert refused.headers["retry-after"] == "60"
        for each in open_ones:
            each.__exit__(None, None, None)
        assert [each.status_code for each in answers] == [200] * MOST_AT_ONCE
        wait_until(lambda: desk.ended == MOST_AT_ONCE, "both to have ended")
        wait_until(lambda: client.get(season_path("2026")).status_code == 200, "a turn")
        for _ in range(2 * MOST_AT_ONCE):
            assert client.get(season_path("2025")).status_code == 404
        assert client.get(season_path("2026")).status_code == 200
