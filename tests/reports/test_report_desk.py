"""Reports out of a real journal: folder, zip, sums, readings, and a clutch and a season of which all is known."""

import csv
import io
import subprocess
import tracemalloc
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from config.errors import StatedError
from daemon.clutches import closing, egg_changes, register
from daemon.clutches.closing import Closing
from daemon.clutches.eggs import EggState, Reason, Stated
from daemon.report_bundle import Bundle, Piece, text_piece, write_folder, zip_stream
from daemon.report_desk import ReportDesk
from daemon.report_originals import PAGE_ROWS
from daemon.review.values import Cause, Fact, FactKind, Incident, Span
from daemon.rollups import RollUps
from daemon.storage import alarm_log, calibrations, incidents, outbox, rounds
from daemon.storage.alarm_log import AlarmEvent
from daemon.storage.outbox import OutboxMessage
from sensors.reading import Reading
from tests.daemon.kept import AIR, BOX, HOUR_MS, START_MS, Kept, at, in_box, steady
from tests.daemon.test_calibrate_applied import shift
from tests.support.household import DAY_MS, MINUTE_MS, a_clutch


def desk(kept: Kept, now_ms: int) -> ReportDesk:
    RollUps(kept.journal).run()
    return ReportDesk(kept.journal, kept.site, kept.profiles, 1800, lambda: now_ms)


def page(folder: Path) -> str:
    return unescape((folder / "report.html").read_text(encoding="utf-8"))


def readings(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened, strict=True))


def sums_hold(folder: Path) -> None:
    subprocess.run(["sha256sum", "--check", "--strict", "SHA256SUMS"], cwd=folder, check=True, capture_output=True)
    listed = {line.split("  ", 1)[1] for line in (folder / "SHA256SUMS").read_text(encoding="utf-8").splitlines()}
    there = {str(each.relative_to(folder)) for each in folder.rglob("*") if each.is_file()}
    assert listed == there - {"SHA256SUMS"}


def say(kept: Kept, number: int, state: Stated, eggs: list[str], at_ms: int, now_ms: int) -> None:
    kept.journal.write(lambda conn: egg_changes.say_of_eggs(conn, number, state, eggs, at_ms, "ana", now_ms))


def an_incident(from_ms: int, until_ms: int, place: str) -> Incident:
    span = Span(from_ms, until_ms)
    fact = Fact(FactKind.PROBE_GAP, span, place, AIR, "said nothing", critical=False)
    return Incident(0, span, (fact,), Cause.PROBE_SILENT, (), (place,), "")


def hatched_clutch(kept: Kept) -> int:
    """Eight eggs at 28.2 °C: five hatch on day 60, two were lost, one was given away; then it was closed."""
    number, end_ms = kept.enter(a_clutch(START_MS)), START_MS + 61 * DAY_MS
    kept.put([each for n in range(61 * 24 + 1) for each in at(START_MS + n * HOUR_MS // 2 * 2, {AIR: 28.2})])
    kept.put([each for n in range(61 * 24) for each in at(START_MS + n * HOUR_MS + HOUR_MS // 2, {AIR: 28.2})])
    kept.evaluate(end_ms)
    say(kept, number, Stated(EggState.REMOVED, Reason.MOULD), ["1", "2"], START_MS + 20 * DAY_MS, end_ms)
    say(kept, number, Stated(EggState.HATCHED), ["3", "4", "5", "6", "7"], START_MS + 60 * DAY_MS, end_ms)
    ending = Closing(end_ms, rest=Stated(EggState.GIVEN_AWAY))
    kept.journal.write(lambda conn: closing.close(conn, number, ending, "ana", end_ms))
    return number


def test_the_record_of_a_clutch_that_hatched(kept: Kept, tmp_path: Path) -> None:
    """By hand: laid one and a half days before; zero 13.2 °C (fit to Du and Ji 2008), so 15 °C·h in each hour."""
    number = hatched_clutch(kept)
    now_ms = START_MS + 90 * DAY_MS
    bundle = desk(kept, now_ms).clutch(number)
    assert bundle is not None
    write_folder(bundle, tmp_path / "out")
    sums_hold(tmp_path / "out")
    text = page(tmp_path / "out")
    assert "8 eggs: 5 hatched, 2 lost, 1 given away." in text
    assert f"Heat from laying: {36 * 6.8 + 61 * 24 * 15:.0f} °C·h" in text
    assert "5 eggs hatched: 27 Jul 2026." in text
    assert "removed: mould, ana" in text
    assert "No incident on record touched it." in text
    assert "<figure>" in text
    rows = readings(tmp_path / "out/readings/north-air.air.csv")
    assert len(rows) == bundle.readings == 61 * 48
    assert np.array([float(each["value_raw"]) for each in rows]).sum() == pytest.approx(61 * 48 * 28.2)


def test_a_window_is_foretold_for_each_week_and_held_against_what_happened(kept: Kept, tmp_path: Path) -> None:
    """Kept steadily: every window is nearly the same, and each tells how far from it the first egg was."""
    bundle = desk(kept, START_MS + 90 * DAY_MS).clutch(hatched_clutch(kept))
    assert bundle is not None
    write_folder(bundle, tmp_path / "out")
    table = page(tmp_path / "out").split("The window as foretold</caption>")[1].split("</table>")[0]
    rows = [each.split("</td><td>") for each in table.split("<tr><td>")[1:]]
    assert len(rows) == 9
    likely = {row[2] for row in rows}
    assert len(likely) <= 2
    days = datetime.strptime(next(iter(likely)), "%d %b %Y").replace(tzinfo=UTC)
    hatched = datetime.fromtimestamp((START_MS + 60 * DAY_MS) / 1000, UTC)
    side = "later" if hatched > days else "earlier"
    assert all(f"days {side} than likely" in row[4] for row in rows)


def test_a_calibration_in_force_is_told_and_corrects_from_its_date(kept: Kept, tmp_path: Path) -> None:
    number = kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.0, START_MS, START_MS + DAY_MS))
    noon_ms = START_MS + 12 * HOUR_MS
    kept.journal.write(lambda conn: calibrations.append(conn, shift(AIR, 0.5, noon_ms)))
    bundle = desk(kept, START_MS + DAY_MS).clutch(number)
    assert bundle is not None
    write_folder(bundle, tmp_path / "out")
    assert "corrected = reading + 0.50 °C" in page(tmp_path / "out")
    rows = readings(tmp_path / "out/readings/north-air.air.csv")
    noon = datetime.fromtimestamp(noon_ms / 1000, UTC)
    for each in rows:
        wanted = 28.5 if datetime.fromisoformat(each["time_utc"]) >= noon else 28.0
        assert (each["value_raw"], float(each["value_calibrated"])) == ("28.0", wanted)


def test_after_a_move_the_readings_are_those_of_each_place_in_its_time(kept: Kept) -> None:
    """On the shelf the first day, in the box of another cabinet the second: each has a probe of its own."""
    number = kept.enter(a_clutch(START_MS))
    both = {AIR: 28.0, "box-s1/air": 26.0, "box-s1/rh": 90.0}
    kept.put([each for n in range(48) for each in at(START_MS + n * HOUR_MS, both)])
    moved_ms, end_ms = START_MS + DAY_MS, START_MS + 2 * DAY_MS
    kept.journal.write(lambda conn: register.move_clutch(conn, number, BOX, moved_ms, "ana", "", end_ms))
    bundle = desk(kept, end_ms).clutch(number)
    assert bundle is not None
    files = {each.name: b"".join(each.chunks()).decode() for each in bundle.pieces if each.name.startswith("readings")}
    counts = {name: len(text.splitlines()) - 1 for name, text in files.items()}
    assert counts == {"readings/north-air.air.csv": 24, "readings/box-s1.air.csv": 24, "readings/box-s1.rh.csv": 24}
    assert bundle.readings == 72


def test_an_incident_that_touched_it_is_told_and_one_elsewhere_is_not(kept: Kept) -> None:
    number = kept.enter(a_clutch(START_MS))
    kept.put([each for n in range(48 * 60) if not 600 < n < 840 for each in at(START_MS + n * MINUTE_MS, {AIR: 28.0})])
    here = an_incident(START_MS + 10 * HOUR_MS, START_MS + 14 * HOUR_MS, "north/upper")
    elsewhere = an_incident(START_MS + 20 * HOUR_MS, START_MS + 21 * HOUR_MS, "south/low")
    for each in (here, elsewhere):
        kept.journal.write(lambda conn, one=each: incidents.put(conn, one, START_MS))  # type: ignore[misc]
    kept.evaluate(START_MS + 2 * DAY_MS)
    bundle = desk(kept, START_MS + 2 * DAY_MS).clutch(number)
    assert bundle is not None
    text = unescape(b"".join(bundle.pieces[0].chunks()).decode())
    assert "Incident 1, from" in text
    assert "Incident 2" not in text
    told = text.split("<h2>Incidents</h2>")[1].split("</section>")[0]
    assert "Juniper" in told
    assert "Development: in" in told


def test_a_month_counts_hours_outside_gaps_alarms_rounds_and_what_failed(kept: Kept, tmp_path: Path) -> None:
    """Two days, of which ten hours at 31 °C with a limit of 30 (Du and Ji 2008), and six hours without a reading."""
    kept.enter(a_clutch(START_MS))
    kept.put(steady(AIR, 28.0, START_MS, START_MS + 10 * HOUR_MS))
    kept.put(steady(AIR, 31.0, START_MS + 10 * HOUR_MS + MINUTE_MS, START_MS + 20 * HOUR_MS))
    kept.put(steady(AIR, 28.0, START_MS + 26 * HOUR_MS, START_MS + 48 * HOUR_MS))
    key = "temperature-high:north-air/air"
    raised, cleared = START_MS + 10 * HOUR_MS, START_MS + 20 * HOUR_MS
    for at_ms, event in ((raised, "raised"), (cleared, "cleared")):
        row = AlarmEvent(at_ms, at_ms, key, f"{key}:{raised}", event, 31.0, 30.0, "invented")
        kept.journal.write(lambda conn, one=row: alarm_log.append_event(conn, one))  # type: ignore[misc]
    lost = OutboxMessage("m-1", "ana-1", 1, START_MS + HOUR_MS, "{}")
    kept.journal.write(lambda conn: outbox.enqueue(conn, [lost]))
    kept.journal.write(
        lambda conn: outbox.record_attempt(conn, "m-1", "abandoned", START_MS + HOUR_MS, None, "404 <gone>")
    )
    kept.journal.write(lambda conn: rounds.start(conn, "north", "ana", START_MS + HOUR_MS, 20 * MINUTE_MS))
    kept.journal.write(lambda conn: rounds.end(conn, "north", "ana", "", START_MS + HOUR_MS + MINUTE_MS))
    month = datetime.fromtimestamp(START_MS / 1000, UTC).strftime("%Y-%m")
    bundle = desk(kept, START_MS + 2 * DAY_MS).month(month)
    write_folder(bundle, tmp_path / "out")
    sums_hold(tmp_path / "out")
    text = page(tmp_path / "out")
    cells = text.split("<td>north-air/air</td>")[1].split("</tr>")[0].replace("</td><td>", "|").split("|")
    least, mean, most, below, above, unknown, gap = (each.replace("<td>", "").replace("</td>", "") for each in cells)
    assert (least, most, below) == ("28.0 °C", "31.0 °C", "0.0")
    # Means of ten minutes cannot tell a moment within one.
    assert float(above) == pytest.approx(10.0, abs=0.2)
    begun_h = (START_MS - int(datetime.fromisoformat(f"{month}-01T00:00+02:00").timestamp() * 1000)) / HOUR_MS
    assert float(unknown) == pytest.approx(begun_h + 6, abs=0.4)
    # Of 42 hours ten at 31 °C: 28 + 30 / 42.
    assert mean == "28.7 °C"
    assert gap
    assert "<td>Too warm</td><td>1</td><td>10 h</td>" in text
    assert "<td>North cabinet</td><td>1</td>" in text
    assert "<td>1</td><td>0</td><td>404 <gone></td>" in text
    assert "too little data" in text
    assert "never calibrated" in text


def test_a_season_with_known_truth(kept: Kept, tmp_path: Path) -> None:
    """Two clutches: 5 of 8 eggs hatched, 2 lost, 1 given away; of the other 8 nobody has said anything."""
    hatched_clutch(kept)
    kept.enter(in_box("Tansy", "elaphe-taeniura"))
    made = desk(kept, START_MS + 90 * DAY_MS)
    assert made.seasons() == ["2026"]
    write_folder(made.season("2026"), tmp_path / "out")
    sums_hold(tmp_path / "out")
    text = page(tmp_path / "out")
    for name, value in (("Clutches", "2"), ("Eggs laid", "16"), ("Hatched", "5"), ("Lost", "2 (2 mould)")):
        assert f"<dt>{name}</dt><dd>{value}</dd>" in text
    assert "too little data: 7 eggs of 10" in text
    # From the middle of the laying, one and a half days before the set-up, to day 60.
    assert "61.5 (1 clutch)" in text
    assert f"{36 * 6.8 + 60 * 24 * 15:.0f} (1 clutch)" in text
    assert "No clutch" not in text
    rows = list(csv.reader(io.StringIO((tmp_path / "out/clutches-and-eggs.csv").read_text(encoding="utf-8"))))
    assert [row[1] for row in rows if row[0] == "clutch"] == ["Juniper", "Tansy"]
    write_folder(made.season("2020"), tmp_path / "none")
    assert "No clutch on record was laid in 2020." in page(tmp_path / "none")


def test_what_there_is_not_is_refused_in_words(kept: Kept) -> None:
    with pytest.raises(StatedError, match="no reading yet"):
        desk(kept, START_MS).month("2020-01")
    kept.put(steady(AIR, 28.0, START_MS, START_MS + HOUR_MS))
    made = desk(kept, START_MS + DAY_MS)
    assert made.clutch(1) is None
    for text, why in (("2031-01", "lies ahead"), ("2020-01", "knows nothing"), ("May", "is no month")):
        with pytest.raises(StatedError, match=why):
            made.month(text)
    with pytest.raises(StatedError, match="lies ahead"):
        made.season("2031")
    assert len(made.months()) == 1


def test_a_zip_has_the_same_files_and_its_sums_hold(kept: Kept, tmp_path: Path) -> None:
    kept.put(steady(AIR, 28.0, START_MS, START_MS + DAY_MS))
    month = desk(kept, START_MS + DAY_MS).months()[0]
    bundle = desk(kept, START_MS + DAY_MS).month(month)
    data = b"".join(zip_stream(bundle, datetime(1970, 1, 1, tzinfo=UTC)))
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        assert packed.testzip() is None
        packed.extractall(tmp_path)
    sums_hold(tmp_path / bundle.name)


def test_a_folder_is_there_whole_or_not_at_all_and_nothing_is_overwritten(tmp_path: Path) -> None:
    def breaks() -> Iterator[bytes]:
        yield b"some"
        raise OSError(28, "No space left on device")

    broken = Bundle("x", (text_piece("a.txt", "a"), Piece("b.txt", breaks)))
    with pytest.raises(StatedError, match="no space left on device"):
        write_folder(broken, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []
    whole = Bundle("x", (text_piece("a.txt", "a"),))
    write_folder(whole, tmp_path / "out")
    with pytest.raises(StatedError, match="not empty"):
        write_folder(whole, tmp_path / "out")
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(StatedError, match="is no folder"):
        write_folder(whole, tmp_path / "file")
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
    assert {each.name for each in tmp_path.iterdir()} == {"out", "file"}
    (tmp_path / "empty").mkdir()
    write_folder(whole, tmp_path / "empty")
    sums_hold(tmp_path / "empty")


def test_readings_are_written_page_by_page(kept: Kept) -> None:
    """Three pages of readings: what is held at once does not grow with them."""
    many = 3 * PAGE_ROWS + 1
    kept.put([Reading(AIR, START_MS + n * 1000, START_MS, 28 + n % 7 / 10, 0) for n in range(many)])
    made = desk(kept, START_MS + 30 * DAY_MS)
    bundle = made.month(made.months()[-1])
    assert bundle.readings == many
    [piece] = [each for each in bundle.pieces if each.name.startswith("readings/")]
    count = largest = 0
    tracemalloc.start()
    try:
        for number, chunk in enumerate(piece.chunks()):
            count += chunk.count(b"\r\n")
            if number == 1:
                tracemalloc.reset_peak()
                largest = tracemalloc.get_traced_memory()[1]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert count == many + 1
    # A page is some 2 MB of text, and several times that as rows; all of them would be three times as much.
    assert peak < 25_000_000, largest
