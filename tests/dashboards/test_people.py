"""The page of people and duty, on a real journal: what it shows, what its forms do, and what they refuse."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.storage import deliveries, duties, trials
from daemon.storage.trials import Trial
from tests.dashboards.rota_pages import ANA, HOUR_MS, SECRETS, TABLET, VIEWER, at, press
from tests.support.household import DAY_MS
from tests.support.upkept import KEEPER, UpkeptHouse, error_beside, hidden, upkept_house, words


@pytest.fixture
def house(tmp_path: Path) -> Iterator[UpkeptHouse]:
    """Monday 4 May 2026, 14:00 in Madrid."""
    with upkept_house(tmp_path) as made:
        yield made


def test_it_says_who_is_called_in_which_order_and_how_each_is_reached(house: UpkeptHouse) -> None:
    text = house.words("/people")
    assert "Called first now: Ana Then Ben. Why: by the standing order." in text
    assert "Where nobody answers a critical alarm: Dr. <b>Vet</b>." in text
    assert "Contact 1: webhook" in text
    assert "Contact 2: push service" in text
    assert "Nobody has ever said that a test arrived this way." in text
    assert "<b>Vet" not in house.look("/people").text


def test_no_address_is_ever_on_a_page_or_in_json(house: UpkeptHouse) -> None:
    house.journal.write(lambda conn: deliveries.note_failed(conn, "ben/0", house.now_ms, "status 500", gone=False))
    press(house, "test", to="ben")
    for path in ("/people", "/set-up/people", "/api/people"):
        text = house.look(path).text
        for secret in (*SECRETS, "127.0.0.1:9", "json://"):
            assert secret not in text, path


def test_what_failed_last_and_what_was_confirmed_is_told_in_words(house: UpkeptHouse) -> None:
    sent_ms, done_ms = house.now_ms - 3 * DAY_MS, house.now_ms - 3 * DAY_MS + HOUR_MS

    def write(conn: object) -> None:
        trials.add(conn, Trial("a", "ana/0", "ana", "2026-W18", sent_ms), "t")  # type: ignore[arg-type]
        trials.confirm(conn, "a", done_ms, "ana", "link")  # type: ignore[arg-type]
        deliveries.note_failed(conn, "ben/0", house.now_ms, "nothing <answers> there", gone=False)  # type: ignore[arg-type]
        deliveries.note_failed(conn, "ben/1", house.now_ms, "unknown there", gone=True)  # type: ignore[arg-type]

    house.journal.write(write)
    text = house.words("/people")
    assert "Last confirmed 1 May 2026 15:00 (2 days ago)." in text
    assert "Nothing has arrived since 4 May 2026 14:00: nothing <answers> there." in text
    assert "address is dead" in text
    found = house.look("/api/people").json()
    ana, ben, _ = found["people"]
    assert ana["contacts"][0]["confirmed_ms"] == done_ms
    assert [way["gone"] for way in ben["contacts"]] == [False, True]
    assert (found["called_now"], found["planned"]) == (["ana", "ben"], [])


def test_an_absence_moves_calls_and_shows_on_its_days(house: UpkeptHouse) -> None:
    assert (
        press(house, "away", ANA, person="ana", start=at(house, 0), until="2026-05-06", why="on <i>holiday</i>")[0]
        == 303
    )
    text = house.words("/people")
    assert "Called first now: Ben" in text
    assert "Ana away Away until 7 May 2026 00:00." in text
    assert "Ana away from 4 May 2026 14:00 to 7 May 2026 00:00 now on <i>holiday</i>" in text
    assert "Today Ben; away: Ana" in text
    assert "Only one person can be reached from 4 May 2026 14:00 to 7 May 2026 00:00" in text
    assert re.search(r"Wed 6 May Ben; away: Ana Thu 7 May Ana, then Ben", text)
    with house.journal.read() as conn:
        [away] = duties.entries(conn).absences
    assert (away.absence.person, away.why) == ("ana", "on <i>holiday</i>")


def test_an_absence_that_leaves_nobody_is_refused_beside_the_field_and_what_was_typed_stays(house: UpkeptHouse) -> None:
    press(house, "away", person="ana", start=at(house, 0), until="2026-05-06")
    status, html = press(house, "away", person="ben", start=at(house, 1), until="2026-05-05T18:30", why="dentist")
    assert status == 422
    assert "Nobody can be reached from 4 May 2026 15:00 to 5 May 2026 18:30" in error_beside(html, "away-until")
    assert 'value="dentist"' in html
    assert '<option value="ben" selected>' in html
    assert 'value="2026-05-05T18:30"' in html
    assert "Ben away from" not in house.words("/people")


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"person": "ana", "start": "", "until": "2026-05-06"}, "away-from", "Say from when"),
        ({"person": "ana", "start": "soon", "until": "2026-05-06"}, "away-from", "is not a date"),
        ({"person": "ana", "start": "2026-05-05", "until": "9999-12-31"}, "away-until", "cannot be"),
        ({"person": "nobody", "start": "2026-05-05", "until": "2026-05-06"}, "away-person", "not in the list"),
        ({"person": "ana", "start": "2026-05-06", "until": "2026-05-04T10:00"}, "away-until", "ends before it begins"),
        ({"person": "ana", "start": "2026-05-01", "until": "2026-05-03"}, "away-until", "over already"),
        ({"person": "ana", "start": "2026-05-05", "until": "2026-05-06", "why": "x" * 501}, "away-why", "500"),
    ],
)
def test_a_wrong_absence_is_refused_beside_its_field(
    house: UpkeptHouse, fields: dict[str, str], field: str, told: str
) -> None:
    before = house.everything()
    status, html = press(house, "away", **fields)
    assert status == 422
    assert told in error_beside(html, field)
    assert house.everything() == before


def test_a_duty_is_planned_asked_for_accepted_and_then_calls_move(house: UpkeptHouse) -> None:
    planned = {"person": "ben", "start": at(house, 0), "until": at(house, 48), "second": "ana", "then": "ana"}
    assert press(house, "plan", **planned, why="Ana travels")[0] == 303
    text = house.words("/people")
    assert "Called first now: Ana" in text
    assert "Ben has not accepted the hand-over" in text
    assert "Ben, then Ana, on duty from 4 May 2026 14:00 to 6 May 2026 14:00 not accepted yet Ana travels" in text
    assert "Today Ana, then Ben; Ben planned, not accepted" in text
    [entry] = re.findall(r'name="number" value="(\d+)">\s*<button id="entry-\d+-accept"', house.look("/people").text)[
        :1
    ]
    assert press(house, "accept", number=entry)[0] == 303
    text = house.words("/people")
    assert "Called first now: Ben Then Ana." in text
    with house.journal.read() as conn:
        [first, second] = duties.entries(conn).duties
    assert (first.duty.person, first.duty.second, first.duty.accepted_ms) == ("ben", "ana", house.now_ms)
    assert (second.duty.person, second.duty.start_ms, second.duty.end_ms) == ("ana", first.duty.end_ms, None)


def test_the_same_rota_comes_of_the_page_and_of_the_command(house: UpkeptHouse, tmp_path: Path) -> None:
    press(house, "plan", person="ben", start="2026-05-05T09:00", until="2026-05-07", second="ana", then="ana", why="w")
    with upkept_house(tmp_path / "other") as other:
        duty = ("duty", "plan", "ben", "--from", "2026-05-05 09:00", "--until", "2026-05-07", "--second", "ana")
        assert other.command(*duty, "--then", "ana", "--why", "w").exit_code == 0
        with house.journal.read() as here, other.journal.read() as there:
            rows = "SELECT kind, person, second, start_ms, end_ms, planned_ms, who, why FROM rota_entry"
            assert here.execute(rows).fetchall() == there.execute(rows).fetchall()


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"person": "", "start": "2026-05-05"}, "plan-person", "Say who"),
        ({"person": "ben", "start": "2026-05-05", "then": "ana"}, "plan-until", "give the end too"),
        ({"person": "ben", "start": "2026-05-05", "second": "ben"}, "plan-until", "second person is the first"),
        ({"person": "ben", "start": "2026-05-05", "until": "2026-05-06"}, "plan-until", "nobody follows"),
    ],
)
def test_a_wrong_duty_is_refused_beside_its_field(
    house: UpkeptHouse, fields: dict[str, str], field: str, told: str
) -> None:
    status, html = press(house, "plan", **fields)
    assert status == 422
    assert told in error_beside(html, field)
    assert "No duty and no absence is planned." in house.words("/people")


def test_a_second_duty_inside_one_of_the_same_person_names_the_first(house: UpkeptHouse) -> None:
    first = {"person": "ben", "start": "2026-05-05T09:00", "until": "2026-05-07T09:00", "then": "ana"}
    assert press(house, "plan", **first)[0] == 303
    status, html = press(house, "plan", person="ben", start="2026-05-06", until="2026-05-08", then="ana")
    assert status == 422
    told = error_beside(html, "plan-until")
    assert "Ben is on duty already from 5 May 2026 09:00 to 7 May 2026 09:00" in told
    after = {"person": "ben", "start": "2026-05-07T09:00", "until": "2026-05-09T09:00"}
    assert press(house, "plan", **after, then="ana")[0] == 303


@pytest.mark.parametrize("wanted", ["plan", "away"])
def test_what_lasts_longer_than_a_year_is_asked_about(house: UpkeptHouse, wanted: str) -> None:
    """From 5 May 2026 to 4 May 2099, at its end: 73.0 years."""
    fields = {"person": "ben", "start": "2026-05-05", "until": "2099-05-04"}
    if wanted == "plan":
        fields["then"] = "ana"
    status, html = press(house, wanted, **fields)
    assert status == 422
    assert "lasts 73.0 years, until 5 May 2099" in error_beside(html, f"{wanted}-sure")
    assert f'id="{wanted}-sure"' not in house.look("/people").text
    assert "No duty and no absence is planned." in house.words("/people")
    assert press(house, wanted, **fields, sure="yes")[0] == 303


def test_what_is_planned_can_be_cancelled_and_what_is_in_force_cannot(house: UpkeptHouse) -> None:
    press(house, "plan", person="ben", start=at(house, 24))
    assert press(house, "cancel-1", number="1", why="changed")[0] == 303
    assert "No duty and no absence is planned." in house.words("/people")
    press(house, "plan", person="ben", start=at(house, 0))
    press(house, "accept", number="2")
    status, html = press(house, "cancel-2", number="2", why="no <b>more</b>")
    assert status == 422
    assert "is in force" in error_beside(html, "cancel-2-why")
    assert 'value="no &lt;b&gt;more&lt;/b&gt;"' in html
    assert press(house, "cancel-9", number="9")[0] == 409
    assert press(house, "accept", number="1")[0] == 409


def test_a_responder_speaks_for_nobody_but_themselves(house: UpkeptHouse) -> None:
    press(house, "plan", person="ben", start=at(house, 0))
    for visitor in (ANA, TABLET):
        status, html = press(house, "accept", visitor, number="1")
        assert status == 403
        assert "only Ben or a keeper can accept this duty" in words(html)
        assert press(house, "away", visitor, person="ben", start=at(house, 1), until=at(house, 9))[0] == 422
    assert press(house, "away", TABLET, person="ana", start=at(house, 1), until=at(house, 9))[0] == 422
    assert "entry-1-accept" not in house.look("/people", house.pages(ANA)).text
    assert "Your account, tablet, is no person of this site" in house.words("/people", house.pages(TABLET))
    ben = replace(ANA, who="ben")
    assert "I take over" in house.words("/people", house.pages(ben))
    assert press(house, "accept", ben, number="1")[0] == 303
    assert "Called first now: Ben" in house.words("/people")


def test_a_viewer_reads_and_changes_nothing(house: UpkeptHouse) -> None:
    app = house.pages(VIEWER)
    html = house.look("/people", app).text
    assert "Called first now: Ana" in words(html)
    assert 'action="/people"' not in html
    assert "Responders and keepers" in words(html)
    before = house.everything()
    assert press(house, "test", VIEWER, to="ana")[0] == 403
    assert house.everything() == before


def test_a_form_without_its_guard_does_nothing(house: UpkeptHouse) -> None:
    before = house.everything()
    assert house.send("/people", {"wanted": "test", "to": "ana"}, guard="another").status_code == 403
    assert press(house, "nothing")[0] == 400
    assert house.everything() == before
    assert hidden(house.look("/people").text)["guard"] == KEEPER.guard


def test_looking_changes_nothing(house: UpkeptHouse) -> None:
    before = house.everything()
    for path in ("/people", "/set-up/people", "/api/people"):
        assert house.look(path).status_code == 200
    assert house.everything() == before


def test_without_contacts_it_says_that_no_alert_reaches_anybody(tmp_path: Path) -> None:
    with upkept_house(tmp_path) as house:
        text = (house.folder / "site.toml").read_text(encoding="utf-8")
        (house.folder / "site.toml").write_text(text[: text.index("[[person]]")], encoding="utf-8")
        alone = UpkeptHouse(house.journal, house.folder, None)
        shown = alone.words("/people")
        assert "Nobody can be called" in shown
        assert "no alert reaches anybody" in shown
        assert press(alone, "test", to="ana")[0] == 422
