"""`clutchwarden import`: what is stored against a second reading of the same file, and what the keeper is shown.

All logger files here are invented. The second method is Python's own csv module, strptime and zoneinfo.
"""

import csv
import json
import threading
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console

from config.site import load_site
from daemon.commands.progress import waiting
from daemon.storage import samples
from daemon.storage.journal import Journal
from sensors.decoder import Decoder
from sensors.reading import Accepted, Quality, Reading
from tests.daemon.importing import AIR, HUMID, NAMED, RH, Site
from tests.daemon.importing import UTC as IN_UTC
from tests.support.household import MEASURE, pack

START = datetime(2026, 5, 3, 8, tzinfo=UTC)
MADRID = ZoneInfo("Europe/Madrid")


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return Site(tmp_path)


def lines(count: int = 4, step_min: int = 10, celsius: float = 28.5) -> str:
    rows = (
        f"{START + timedelta(minutes=step_min * at):%Y-%m-%d %H:%M},{celsius + at / 100:.2f}" for at in range(count)
    )
    return "T,C\n" + "\n".join(rows) + "\n"


SEMICOLONS = """\
Nr;T;C;H
1;14.06.2026 23:50:00;28,51;81,2
2;15.06.2026 00:00:00;28,49;81,0
3;15.06.2026 00:10:00;;80,9
"""
COMMAS = """\
# invented logger 7
T,C,H
06/14/2026 11:50:00 PM,28.51,81.2
06/15/2026 12:00:00 AM,28.49,81
"""
TABS = "T\tC\tH\n2026-06-14 23:50:00\t28.51\t81.2\n2026-06-15 00:00:00\t28.49\t81\n"
LOGGERS = {
    "semicolons and decimal commas, day first": (SEMICOLONS, ";", "%d.%m.%Y %H:%M:%S", ",", "utf-8-sig"),
    "commas, twelve hours, month first": (COMMAS, ",", "%m/%d/%Y %I:%M:%S %p", ".", "utf-8"),
    "tabs in UTF-16": (TABS, "\t", "%Y-%m-%d %H:%M:%S", ".", "utf-16"),
    "Windows line ends": (SEMICOLONS.replace("\n", "\r\n"), ";", "%d.%m.%Y %H:%M:%S", ",", "cp1252"),
}


def read_otherwise(text: str, delimiter: str, pattern: str, decimal: str, column: str) -> list[tuple[int, float]]:
    """The same file by Python's own csv, strptime and zoneinfo."""
    plain = [line for line in text.splitlines() if not line.startswith("#")]
    found = []
    for row in csv.DictReader(plain, delimiter=delimiter):
        if row[column]:
            moment = datetime.strptime(row["T"], pattern).replace(tzinfo=MADRID)
            found.append((round(moment.timestamp() * 1000), float(row[column].replace(decimal, "."))))
    return found


@pytest.mark.parametrize("kind", LOGGERS)
def test_what_is_stored_is_what_a_second_method_reads(kind: str, site: Site) -> None:
    text, delimiter, pattern, decimal, encoding = LOGGERS[kind]
    site.write(text, encoding)
    said = site.store(*NAMED, *HUMID)
    assert site.series(AIR) == read_otherwise(text, delimiter, pattern, decimal, "C")
    assert site.series(RH) == read_otherwise(text, delimiter, pattern, decimal, "H")
    assert said["stored"] == len(site.rows()) > 3
    assert said["first"] == "2026-06-14T21:50:00+00:00"  # by hand: Madrid is two hours ahead of UTC in June
    assert said["first_local"] == "2026-06-14 23:50:00"


def test_everything_that_was_understood_is_shown_before_anything_is_stored(site: Site) -> None:
    rows = [f"14.06.2026 {10 + at // 6}:{at % 6}0;28,{at:02}" for at in range(12)]
    site.write("T;C\n" + "\n".join([*rows, "14.06.2026 14:00;85,0"]) + "\n")
    found = site.call(*NAMED, "--dry-run")
    assert found.exit_code == 0
    for words in (
        "delimiter    semicolon (found)",
        "decimal sign comma (found)",
        'column "T": day before month',
        "time zone    Europe/Madrid (the site's)",
        "first row    2026-06-14 10:00:00 in Europe/Madrid, 2026-06-14 08:00:00 UTC",
        "last row     2026-06-14 14:00:00 in Europe/Madrid, 2026-06-14 12:00:00 UTC",
        "rows         13 over 4 h",
        'column "C", read as °C',
        "usually one every 600 s",
        "1 over 30 min, the longest 2 h 10 min from 2026-06-14 11:50:00",
        "13 new, 0 there already, 0 with another value there",
        "85 °C is what a 1-wire thermometer says",
    ):
        assert words in found.stdout
    assert not site.journal_path.exists()


def test_the_same_file_twice_adds_nothing(site: Site) -> None:
    site.write(lines())
    assert site.store(*NAMED, *IN_UTC)["stored"] == 4
    before = site.rows()
    again = site.store(*NAMED, *IN_UTC)
    assert (again["stored"], again["channels"][0]["duplicates"]) == (0, 4)
    assert site.rows() == before
    assert "There is nothing to store" in site.call(*NAMED, *IN_UTC, "--yes").stdout


def test_a_longer_copy_of_a_file_adds_only_what_is_new(site: Site) -> None:
    site.write(lines(4))
    site.store(*NAMED, *IN_UTC)
    site.write(lines(7))
    said = site.store(*NAMED, *IN_UTC)
    assert (said["stored"], said["channels"][0]["new"], said["channels"][0]["duplicates"]) == (3, 3, 4)
    assert len(site.rows()) == 7


def test_the_first_value_of_a_time_stays_and_each_other_one_is_listed(site: Site) -> None:
    site.write(lines(15))
    site.store(*NAMED, *IN_UTC)
    before = site.rows()
    site.write(lines(16, celsius=27.5))
    shown = site.call(*NAMED, *IN_UTC, "--dry-run").stdout
    assert "1 new, 0 there already, 15 with another value there" in shown
    assert "2026-05-03 10:00:00: 28.5, 27.5" in shown
    assert "and 5 more; --json lists all" in shown
    said = site.store(*NAMED, *IN_UTC)["channels"][0]
    assert said["conflicts"][0] == {"at": "2026-05-03T08:00:00+00:00", "stored": 28.5, "offered": 27.5}
    assert len(said["conflicts"]) == 15
    assert site.rows()[:15] == before
    assert len(site.rows()) == 16


def test_it_asks_and_a_no_stores_nothing(site: Site) -> None:
    site.write(lines())
    refused = site.call(*NAMED, answer="n\n")
    assert "Store 4 readings?" in refused.output
    assert "Nothing was stored." in refused.stdout
    assert site.rows() == []
    nobody = site.call(*NAMED, answer="")
    assert nobody.exit_code == 2
    assert "give --yes" in nobody.stderr
    assert site.rows() == []
    assert "Stored 4 readings" in site.call(*NAMED, answer="y\n").stdout
    assert len(site.rows()) == 4


def test_json_never_waits_for_an_answer(site: Site) -> None:
    site.write(lines())
    assert "--yes" in site.call(*NAMED, "--json").stderr
    looked = json.loads(site.call(*NAMED, "--json", "--dry-run").stdout)
    assert (looked["dry_run"], looked["stored"], looked["channels"][0]["new"]) == (True, 0, 4)
    assert site.rows() == []


@pytest.mark.parametrize("place", ["middle", "end"])
def test_readings_are_judged_as_if_they_had_come_one_by_one(place: str, site: Site) -> None:
    values = [28.5, 28.6, 85.0, 28.6, 36.9, 28.6, 0.0, -127.0, 28.7, 71.0, 28.7, 28.8]
    if place == "end":
        values.reverse()
    moments = [START + timedelta(minutes=at) for at in range(len(values))]
    site.write("T,C\n" + "".join(f"{at:%Y-%m-%d %H:%M},{value}\n" for at, value in zip(moments, values, strict=True)))
    said = site.store(*NAMED, *IN_UTC)
    decoder = Decoder(load_site(site.folder))
    expected = []
    for moment, value in zip(moments, values, strict=True):
        at_ms = round(moment.timestamp() * 1000)
        decoded = decoder.decode(MEASURE, pack(at_ms, {"air": value}), False, at_ms)
        assert isinstance(decoded, Accepted)
        expected += [(one.measured_at_ms, one.value, one.quality) for one in decoded.readings]
    assert [(row.measured_at_ms, row.value, row.quality) for row in site.rows()] == expected
    suspect = sum(quality != 0 for _, _, quality in expected)
    assert said["channels"][0]["suspect"] == suspect > 3


def test_the_judgement_knows_what_the_journal_has_before_the_file(site: Site) -> None:
    begin_ms = round(START.timestamp() * 1000)
    with Journal.open(site.journal_path) as journal:
        keys = Decoder(load_site(site.folder)).channels.values()
        ids = journal.write(lambda conn: samples.channel_ids(conn, keys))
        stored = [Reading(AIR, begin_ms - 60_000, begin_ms, 28.5, 0)]
        journal.write(lambda conn: samples.append(conn, ids, stored))
    site.write("T,C\n2026-05-03 08:00,0.0\n2026-05-03 08:01,28.4\n2026-05-03 08:02,28.4\n")
    site.store(*NAMED, *IN_UTC)
    assert [row.quality for row in site.rows()] == [0, Quality.FAULT_VALUE, 0, 0]


def test_readings_land_in_their_own_time_and_say_when_they_came(site: Site) -> None:
    before_ms = round(datetime.now(UTC).timestamp() * 1000)
    site.write(lines())
    site.store(*NAMED, *IN_UTC)
    rows = site.rows()
    assert rows[0].measured_at_ms == round(START.timestamp() * 1000)
    assert len({row.received_at_ms for row in rows}) == 1
    assert before_ms <= rows[0].received_at_ms <= round(datetime.now(UTC).timestamp() * 1000)


def test_two_columns_are_stored_in_order_of_time(site: Site) -> None:
    site.write("T,C,H\n2026-05-03 08:00,28.5,80\n2026-05-03 08:10,28.6,\n2026-05-03 08:20,28.7,82\n")
    site.store(*NAMED, *HUMID, *IN_UTC)
    assert [(row.channel, row.value) for row in site.rows()] == [
        (AIR, 28.5), (RH, 80.0), (AIR, 28.6), (AIR, 28.7), (RH, 82.0),
    ]  # fmt: skip


def test_fahrenheit_is_converted_when_it_is_said(site: Site) -> None:
    site.write("T,Temp °F\n2026-05-03 08:00,83.3\n2026-05-03 08:10,82.4\n")
    columns = ("--time-column", "T", "--temperature-column", "Temp °F", "--to", AIR, "--unit", "F")
    site.store(*columns, *IN_UTC)
    # NIST SP 811 appendix B.8: t/°C = (t/°F - 32)/1.8; by hand 51.3/1.8 = 28.5 and 50.4/1.8 = 28.
    assert [value for _, value in site.series()] == [28.5, 28.0]


def test_the_site_may_be_named_by_the_environment(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    from typer.testing import CliRunner

    from tests.daemon.importing import APP

    site.write(lines())
    monkeypatch.setenv("CLUTCHWARDEN_SITE", str(site.folder))
    found = CliRunner().invoke(APP, [str(site.file), *NAMED, "--yes"])
    assert found.exit_code == 0, found.output
    assert len(site.rows()) == 4


def test_a_bar_moves_where_a_step_takes_long_and_only_then() -> None:
    for patience_s, expected in ((0.0, True), (60.0, False)):
        shown, appeared = StringIO(), threading.Event()
        console = Console(file=shown, force_terminal=True, width=80)
        with waiting("Storing", patience_s, console):
            while expected and not appeared.is_set():
                appeared.set() if "Storing" in shown.getvalue() else appeared.wait(0.01)
        assert ("Storing" in shown.getvalue()) == expected
