"""Charts of a site in degrees Fahrenheit, and of a probe that was calibrated."""

import pytest
from httpx import Response

from daemon.storage import calibrations
from daemon.storage.calibrations import append
from sensors.calibration import Record
from sensors.calibration_line import Line, Point
from tests.dashboards.asking import ask
from tests.support.charted import (
    AIR,
    DAY_MS,
    HOUR_MS,
    NOW_MS,
    Charted,
    charted,
    site,
)


def page(made: Charted, query: str = "") -> Response:
    return ask(made.app, f"/charts{query}")


def plain(answer: Response) -> str:
    return answer.text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def kept(made: Charted) -> list[tuple[int, float]]:
    with made.journal.read() as conn:
        return conn.execute(
            "SELECT measured_at_ms, value FROM sample JOIN channel USING (channel_id) WHERE channel = ?", (AIR,)
        ).fetchall()


def columns_of(made: Charted) -> dict[str, list[float]]:
    answer = ask(made.app, f"/api/series?channel={AIR}&from={NOW_MS - 40 * DAY_MS}&width=160").json()
    assert answer["series"][0]["width_ms"] == 6 * HOUR_MS
    columns: dict[str, list[float]] = answer["series"][0]["buckets"]
    return columns


def test_a_site_in_fahrenheit_shows_fahrenheit_and_gives_celsius(tmp_path_factory: pytest.TempPathFactory) -> None:
    with charted(tmp_path_factory.mktemp("f"), site("F"), days=3) as opened:
        text = plain(page(opened, f"?channel={AIR}&period=24h"))
        # 27.8 °C and 29.0 °C are the ends of the wave; 82.0 and 84.2 by hand.
        assert "<td>82.0 °F</td>" in text
        assert "<td>84.2 °F</td>" in text
        [found] = ask(opened.app, f"/api/series?channel={AIR}").json()["series"]
        assert max(most for most in found["buckets"]["most"] if most is not None) == 29.0


def test_a_calibration_counts_from_its_date_on(tmp_path_factory: pytest.TempPathFactory) -> None:
    change_ms = NOW_MS - 20 * DAY_MS - 12_345
    line = Line(1.0, 2.0, (Point(30.0, 28.0, 0.1, 0.1, "a reference"),), 0.05, 0.1)
    record = Record(AIR, change_ms, line, "one-point", change_ms, None, change_ms, "kim", "")
    with charted(tmp_path_factory.mktemp("cal"), days=40) as opened:
        before = columns_of(opened)
        opened.journal.write(lambda conn: append(conn, record))
        with opened.journal.read() as conn:
            assert len(calibrations.history(conn)) == 1
        after = columns_of(opened)
    for start_ms, old, new in zip(before["start_ms"], before["most"], after["most"], strict=True):
        if start_ms + 6 * HOUR_MS <= change_ms:
            assert new == old
        elif start_ms >= change_ms:
            assert new == pytest.approx(old + 2.0)
