"""Addresses of calendars: made, shown once, read without signing in, taken back; by page, by command, by the daemon."""

import json
import re
from pathlib import Path
from uuid import UUID

import pytest
from typer.testing import CliRunner

from daemon import cli
from daemon.access.values import Role, Visitor
from daemon.calendar_feed_desk import path_of
from daemon.round_desk import RoundDesk, Started
from daemon.rounds.values import Entry, Lid, Medium, Stored
from daemon.storage import audit
from daemon.storage.duties import NewEntry
from tests.calendar.lines import events_of
from tests.dashboards.asking import ask
from tests.support.called import PUBLIC_URL, CalledHouse
from tests.support.dated import Dated
from tests.support.household import DAY_MS, write_site
from tests.support.journals import new_journal


@pytest.fixture
def dated(drifted: CalledHouse) -> Dated:
    return Dated(drifted)


def test_an_address_is_shown_once_and_never_kept(dated: Dated) -> None:
    shown = dated.send("/set-up/calendar/make", name="phone")
    assert shown.status_code == 200
    (address,) = re.findall(r'<code id="once">([^<]+)</code>', shown.text)
    assert re.fullmatch(rf"{PUBLIC_URL}/calendar/cwc_[A-Za-z0-9_-]{{43}}\.ics", address)  # 43 characters: 256 bits
    secret = address.removeprefix(f"{PUBLIC_URL}/calendar/").removesuffix(".ics")
    assert all(secret not in row for row in dated.house.everything())
    again = ask(dated.app(), "/set-up/calendar")
    assert secret not in again.text
    assert "Never read." in again.text
    assert ask(dated.app(), f"/calendar/{secret}.ics").status_code == 200
    # It is written down behind the answer, in the order in which the journal is asked.
    dated.journal.write(lambda _conn: None)
    assert "Last read" in ask(dated.app(), "/set-up/calendar").text
    assert dated.audited() == [("ana", "calendar address made", "phone")]


def test_a_box_to_see_sooner_is_an_entry_of_its_own_until_it_is_seen_again(dated: Dated) -> None:
    """Felt dry: to be seen a day after the end of the round (project choice); the round itself a week after it."""
    house = dated.house
    desk = RoundDesk(house.journal, house.site, dated.profiles, house.work, 1800.0, lambda: house.now_ms)

    def walk(number: int, medium: Medium) -> None:
        started = desk.start("ana", ("north",))
        assert isinstance(started, Started)
        entry = Entry(str(UUID(int=number, version=4)), "north/upper/N1", "ana", medium=medium, lid=Lid.DRY)
        assert isinstance(desk.enter(started.rounds[0].number, entry), Stored)
        desk.finish(started.rounds[0].number, "ana")

    path = path_of(dated.made())
    walk(1, Medium.DRY)
    dated.keeper.look()
    shown = {each["SUMMARY"]: each for each in events_of(ask(dated.app(), path).content)}
    assert "Look at Juniper" in shown
    assert "felt dry" in shown["Look at Juniper"]["DESCRIPTION"]
    [due] = [each for each in dated.sheet.look().due if each.what.startswith("Look at")]
    assert (due.what, due.at_ms) == ("Look at Juniper", house.now_ms + DAY_MS)
    page = ask(dated.app(), "/hand-over").text
    assert "Look at Juniper" in page
    assert "felt dry, and no water was added" in page
    house.now_ms += DAY_MS
    walk(2, Medium.CLUMPS)
    dated.keeper.look()
    left = [each for each in events_of(ask(dated.app(), path).content) if each.get("STATUS") != "CANCELLED"]
    assert "Look at Juniper" not in {each["SUMMARY"] for each in left}
    assert not [each for each in dated.sheet.look().due if each.what.startswith("Look at")]


def test_the_calendar_is_read_without_signing_in_and_asked_for_again_cheaply(dated: Dated) -> None:
    path = path_of(dated.made())
    dated.keeper.look()
    answer = ask(dated.app(), path)
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["cache-control"] == "private, no-cache"
    assert [each["CATEGORIES"] for each in events_of(answer.content)] == ["hatching", "round"]
    mark = answer.headers["etag"]
    same = ask(dated.app(), path, headers={"If-None-Match": f'"other", {mark}'})
    assert (same.status_code, same.content, same.headers["etag"]) == (304, b"", mark)
    assert ask(dated.app(), path, "HEAD").status_code == 200
    dated.people.plan([NewEntry("ana", dated.house.now_ms + DAY_MS, None, dated.house.now_ms, "ana")])
    assert dated.keeper.look() == 1
    other = ask(dated.app(), path, headers={"If-None-Match": mark})
    assert other.status_code == 200
    assert [each["SUMMARY"] for each in events_of(other.content)] == [
        "On duty: Ana",
        "Hatching: Juniper (stripe-tailed ratsnake, beauty snake)",
        "Round due: North cabinet",
    ]
    assert dated.keeper.look() == 0


def test_reading_changes_nothing_but_when_it_was_read(dated: Dated) -> None:
    path = path_of(dated.made())
    dated.keeper.look()
    before = dated.house.everything()
    first = ask(dated.app(), path).content
    assert ask(dated.app(), path).content == first
    changed = set(dated.house.everything()) ^ set(before)
    assert all("phone" in row for row in changed)


def test_an_address_that_was_taken_back_and_any_other_is_good_for_nothing(dated: Dated) -> None:
    token = dated.made()
    app = dated.app()
    assert dated.send("/set-up/calendar/withdraw", name="phone").status_code == 303
    told = ask(app, path_of(token))
    assert told.status_code == 404
    assert ask(app, f"/calendar/{token}").status_code == 404
    for _ in range(10):
        last = ask(app, "/calendar/cwc_guessed.ics")
    assert last.status_code == 429
    assert int(last.headers["retry-after"]) >= 1
    # What is good is never refused: behind one proxy all have one address.
    assert ask(app, path_of(dated.made("tablet"))).status_code == 200
    assert dated.audited()[1:2] == [("ana", "calendar address withdrawn", "phone")]


def test_what_is_wrong_stands_beside_the_field_and_what_was_typed_stays(dated: Dated) -> None:
    dated.made("phone")
    wrong = {"Phone": "already", "": "This is empty", "x" * 65: "64 characters", "a\u202eb": "on one line"}
    for name, why in wrong.items():
        refused = dated.send("/set-up/calendar/make", name=name)
        assert refused.status_code == 422
        assert re.search(rf'id="calendar-name-error">.*?{why}', refused.text, re.DOTALL)
        assert f'name="name" value="{name}"' in refused.text
    for name in ("Mara's phone", "Téléphone d'Ana"):
        assert dated.send("/set-up/calendar/make", name=name).status_code == 200
        assert dated.send("/set-up/calendar/withdraw", name=name).status_code == 303
    gone = dated.send("/set-up/calendar/withdraw", name="<b>none</b>")
    assert gone.status_code == 422
    assert "&lt;b&gt;none&lt;/b&gt;" in gone.text


def test_a_viewer_sees_which_there_are_and_makes_none(dated: Dated) -> None:
    dated.made()
    page = ask(dated.app(Role.VIEWER), "/set-up/calendar").text
    assert "phone" in page
    assert "<form" not in page
    viewer = Visitor("eva", Role.VIEWER, "guard")
    for refused in (dated.desk.make(viewer, "mine", "x"), dated.desk.withdraw(viewer, "phone", "x")):
        assert refused is not None
        assert not isinstance(refused, str)
        assert refused.reason.startswith("Only a keeper")
    assert [each.name for each in dated.desk.in_use()] == ["phone"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_site(tmp_path / "site", 1883)


def run(folder: Path, *words: str) -> tuple[int, str]:
    done = CliRunner().invoke(cli.app, ["calendar", *words, "--site", str(folder)])
    return done.exit_code, done.stdout + done.stderr


def test_by_command(folder: Path) -> None:
    assert run(folder, "list") == (0, "No calendar address. Make one with: clutchwarden calendar address NAME\n")
    code, told = run(folder, "address", "phone", "--who", "ana")
    assert code == 0
    address = told.splitlines()[0]
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/calendar/cwc_[\w-]{43}\.ics", address)
    assert "like a password" in told
    assert "public_url" in told
    code, told = run(folder, "address", "phone")
    assert (code, "already" in told) == (2, True)
    listed = json.loads(run(folder, "list", "--json")[1])
    assert [(each["name"], each["made_by"], each["seen_ms"]) for each in listed] == [("phone", "ana", None)]
    assert run(folder, "revoke", "phone") == (0, "The calendar address phone is good no more.\n")
    assert run(folder, "revoke", "phone")[0] == 2
    with new_journal(folder / "data" / "journal.sqlite3") as journal, journal.read() as conn:
        assert [each.change.what for each in audit.newest(conn, 9)] == [
            "calendar address withdrawn",
            "calendar address made",
        ]


def test_the_daemon_looks_soon_after_its_start_and_then_every_quarter_of_an_hour(dated: Dated) -> None:
    path = path_of(dated.made())
    dated.keeper.tick()
    assert events_of(ask(dated.app(), path).content)
    dated.people.plan([NewEntry("ana", dated.house.now_ms + DAY_MS, None, dated.house.now_ms, "ana")])
    # 20 s from tick to tick: the 45 after the first one are a quarter of an hour.
    for _ in range(44):
        dated.keeper.tick()
    assert b"On duty" not in ask(dated.app(), path).content
    dated.keeper.tick()
    assert b"On duty" in ask(dated.app(), path).content
