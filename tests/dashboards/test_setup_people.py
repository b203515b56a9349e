"""What a keeper changes of people: the site file says so afterwards, and an address is in a file of its own alone."""

import stat
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from daemon.access.values import Role
from daemon.storage import audit
from dashboards.rendering import render
from dashboards.setup_people import people_setup_view
from tests.support.upkept import KEEPER, UpkeptHouse, error_beside, hidden, upkept_house, words

PATH = "/set-up/people"
TOKEN = "https://push.example.org/hook/s3cret-t0ken"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[UpkeptHouse]:
    with upkept_house(tmp_path) as made:
        yield made


def people(house: UpkeptHouse) -> list[dict[str, Any]]:
    found = tomllib.loads((house.folder / "site.toml").read_text(encoding="utf-8"))
    return list(found["person"])


def send(house: UpkeptHouse, act: str, **fields: str) -> tuple[int, str]:
    mark = hidden(house.look(PATH).text).get("mark", "")
    answer = house.send(PATH, {"act": act, "mark": mark, **fields})
    return answer.status_code, answer.text


def audited(house: UpkeptHouse) -> list[audit.AuditEvent]:
    with house.journal.read() as conn:
        return audit.newest(conn, 10)


def test_a_person_with_an_address_is_added_and_the_address_is_nowhere_else(house: UpkeptHouse) -> None:
    status, _ = send(house, "add", name="Zoë Öz", kind="webhook", address=TOKEN)
    assert status == 303
    added = people(house)[-1]
    assert (added["id"], added["name"]) == ("zoe-oz", "Zoë Öz")
    [contact] = added["contact"]
    secret = house.folder / contact["url_file"]
    assert secret.read_text(encoding="utf-8").strip() == TOKEN
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert stat.S_IMODE(secret.parent.stat().st_mode) == 0o700
    assert house.restarts == 1
    for text in ((house.folder / "site.toml").read_text(encoding="utf-8"), *house.everything()):
        assert "s3cret" not in text
    [event] = audited(house)
    assert (event.change.who, event.change.about) == ("mara", "person zoe-oz added")


@pytest.mark.parametrize(
    ("fields", "field", "told"),
    [
        ({"name": " "}, "name", "Say who it is"),
        ({"name": "Ana"}, "id", "There is a person ana already"),
        ({"name": "Eve", "id": "../../etc/x"}, "id", "Use letters without accents"),
        ({"name": "龙"}, "id", "Use letters without accents"),
        ({"name": "E\x07ve"}, "name", "characters in it that nobody sees"),
        ({"name": "E\u202eve"}, "name", "characters in it that nobody sees"),
        ({"name": "Eve", "id": "e" * 300}, "id", ""),
        ({"name": "Eve", "address": "s3cret no address"}, "address", "a webhook needs a web address"),
        ({"name": "Eve", "kind": "apprise", "address": "s3cret"}, "address", "names its service"),
        (
            {"name": "Eve", "kind": "apprise", "address": "nothing-knows-this://s3cret"},
            "address",
            "does not understand",
        ),
        ({"name": "Eve", "kind": "pigeon", "address": TOKEN}, "kind", "not in the list"),
    ],
)
def test_a_person_who_cannot_be_added_is_refused_beside_the_field_and_no_secret_is_left(
    house: UpkeptHouse, fields: dict[str, str], field: str, told: str
) -> None:
    before = house.everything(), (house.folder / "site.toml").read_bytes()
    status, html = send(house, "add", **{"kind": "webhook", **fields})
    assert status == 422
    assert told.casefold() in error_beside(html, f"add-{field}").casefold()
    # What was typed stays, but for the address.
    assert f'value="{fields["name"].strip() and fields["name"]}"' in html
    assert "s3cret" not in html
    assert (house.everything(), (house.folder / "site.toml").read_bytes()) == before
    assert not (house.folder / "secrets").exists() or list((house.folder / "secrets").iterdir()) == []
    assert house.restarts == 0


def test_all_that_is_wrong_with_a_new_person_is_told_at_once(house: UpkeptHouse) -> None:
    fields = {"name": "Ana", "id": "a/b", "kind": "webhook", "address": "s3cret no address"}
    status, html = send(house, "add", **fields)
    assert status == 422
    assert "Use letters without accents" in error_beside(html, "add-id")
    assert "a webhook needs a web address" in error_beside(html, "add-address").casefold()
    assert "s3cret" not in html


def test_contacts_are_added_readdressed_and_removed(house: UpkeptHouse) -> None:
    assert send(house, "add-contact", person="ana", kind="webhook", address=TOKEN)[0] == 303
    ana = people(house)[0]
    assert len(ana["contact"]) == 2
    # The daemon that was started anew knows both; this house looks at the file again.
    again = UpkeptHouse(house.journal, house.folder, None)
    assert send(again, "readdress", person="ana", number="1", kind="webhook", address=f"{TOKEN}2")[0] == 303
    first = people(house)[0]["contact"][0]
    assert "url" not in first
    assert (house.folder / first["url_file"]).read_text(encoding="utf-8").strip() == f"{TOKEN}2"
    refused = send(again, "remove-contact", person="ana", number="2")
    assert refused[0] == 422
    assert "Tick this" in error_beside(refused[1], "remove-contact-ana-2-sure")
    assert send(again, "remove-contact", person="ana", number="2", sure="yes")[0] == 303
    assert len(people(house)[0]["contact"]) == 1


def test_a_person_is_renamed_marked_for_emergencies_and_removed(house: UpkeptHouse) -> None:
    assert send(house, "change", person="ben", name="Ben <b>Bold</b>", emergency="yes")[0] == 303
    ben = people(house)[1]
    assert (ben["name"], ben["emergency"]) == ("Ben <b>Bold</b>", True)
    again = UpkeptHouse(house.journal, house.folder, None)
    assert "Ben <b>Bold</b>" in again.words(PATH)
    assert "<b>Bold" not in again.look(PATH).text
    assert send(again, "remove", person="ben")[0] == 422
    assert send(again, "remove", person="ben", sure="yes")[0] == 303
    assert [each["id"] for each in people(house)] == ["ana", "vet"]


def test_nobody_left_for_an_alarm_that_begins_is_refused_in_words(house: UpkeptHouse) -> None:
    send(house, "change", person="ben", name="Ben", emergency="yes")
    again = UpkeptHouse(house.journal, house.folder, None)
    status, html = send(again, "change", person="ana", name="Ana", emergency="yes")
    assert status == 422
    assert "nobody is called when an alarm begins" in words(html)
    assert "emergency" not in people(house)[0]


@pytest.mark.parametrize(
    ("start", "end", "stated"), [("22:00", "07:00", {"start": "22:00", "end": "07:00"}), ("", "", None)]
)
def test_quiet_hours_are_stated_and_removed(
    house: UpkeptHouse, start: str, end: str, stated: dict[str, str] | None
) -> None:
    send(house, "quiet", start="21:30", end="06:00")
    assert send(house, "quiet", start=start, end=end)[0] == 303
    found = tomllib.loads((house.folder / "site.toml").read_text(encoding="utf-8")).get("quiet")
    assert found == stated


@pytest.mark.parametrize(
    ("start", "end", "field", "told"),
    [
        ("22:00", "", "end", "Write a time of day"),
        ("25:00", "07:00", "start", "Write a time of day"),
        ("7:00", "07:00", "start", "end when they begin"),
    ],
)
def test_quiet_hours_that_cannot_be_are_refused_beside_the_field(
    house: UpkeptHouse, start: str, end: str, field: str, told: str
) -> None:
    status, html = send(house, "quiet", start=start, end=end)
    assert status == 422
    assert told in error_beside(html, f"quiet-{field}")
    assert f'value="{start}"' in html


def test_a_form_for_an_older_file_changes_nothing(house: UpkeptHouse) -> None:
    mark = hidden(house.look(PATH).text)["mark"]
    with (house.folder / "site.toml").open("a", encoding="utf-8") as site:
        site.write("# by hand\n")
    answer = house.send(PATH, {"act": "change", "mark": mark, "person": "ana", "name": "Anna"})
    assert answer.status_code == 409
    assert "was changed since this page was made" in words(answer.text)
    assert 'value="Anna"' in answer.text
    assert people(house)[0]["name"] == "Ana"
    assert send(house, "change", person="ana", name="Anna")[0] == 303


def test_what_there_is_not_and_unknown_buttons_do_nothing(house: UpkeptHouse) -> None:
    before = house.everything(), (house.folder / "site.toml").read_bytes()
    for act, fields in (
        ("change", {"person": "nobody", "name": "x"}),
        ("readdress", {"person": "ana", "number": "7", "address": TOKEN}),
        ("remove-contact", {"person": "ana", "number": "0", "sure": "yes"}),
        ("explode", {}),
    ):
        status, html = send(house, act, **fields)
        assert status in (400, 422)
        assert "Nothing was done" in words(html)
    assert house.send(PATH, {"act": "remove", "person": "ana", "sure": "yes"}, guard="x").status_code == 403
    assert (house.everything(), (house.folder / "site.toml").read_bytes()) == before


def test_only_a_keeper_who_gave_their_password_lately_has_forms(house: UpkeptHouse) -> None:
    responder = house.pages(replace(KEEPER, role=Role.RESPONDER))
    html = house.look(PATH, responder).text
    assert 'name="act"' not in html
    assert "A keeper may change this." in words(html)
    assert house.send(PATH, {"act": "remove", "person": "ana", "sure": "yes"}, responder).status_code == 403
    assert people(house)[0]["id"] == "ana"


def test_in_the_demo_it_says_why_nothing_can_be_changed(house: UpkeptHouse) -> None:
    house.desk.refusal = "This is the demo: nothing is changed."
    html = house.look(PATH).text
    assert 'name="act"' not in html
    assert "This is the demo" in words(html)
    refused = house.send(PATH, {"act": "change", "person": "ana", "name": "x", "mark": house.desk.mark()})
    assert refused.status_code == 422
    assert people(house)[0]["name"] == "Ana"


def test_whoever_has_not_given_their_password_lately_is_led_to_do_so(house: UpkeptHouse) -> None:
    view = people_setup_view(house.people.look(), house.desk.mark(), may_change=True)
    html = render("setup_people.html", view=view, here=PATH, confirmed=False)
    assert 'href="/sign-in/confirm?to=/set-up/people"' in html
    assert 'name="act"' not in html


def test_what_a_change_brings_with_it_is_told_once(house: UpkeptHouse) -> None:
    """Quiet hours of 23 hours are taken, and are likely the wrong way round."""
    status, page = send(house, "quiet", start="06:00", end="05:00")
    assert status == 200
    assert "Are start and end the wrong way round?" in words(page)
    assert house.restarts == 1
    status, _ = send(house, "add", name="Zoe")
    assert status == 303, "it was told before"
