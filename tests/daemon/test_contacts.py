"""`clutchwarden contacts`: who is told, and whether a message gets there."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from daemon import cli
from daemon.storage import deliveries
from tests.support.household import write_site
from tests.support.journals import new_journal
from tests.support.processes import free_port, wait_until
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.standard_webhooks import Verifier

KEY = "whsec_TWFyYXMta2V5LTAxMjM0NTY3ODktYWJjZGVmZw=="


def call(*arguments: str | Path, environment: dict[str, str] | None = None) -> Result:
    return CliRunner().invoke(cli.app, ["contacts", *map(str, arguments)], env=environment)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as running:
        yield running


def contact(url: str, more: str = "") -> str:
    return f'[[person.contact]]\nkind = "webhook"\nurl = "{url}"\n{more}\n'


def site_of(folder: Path, *people: tuple[str, str], timeout_s: float = 10.0) -> Path:
    """A site with these people: id, and the text of their contacts."""
    extra = "".join(f'[[person]]\nid = "{name}"\nname = "{name.title()}"\n{contacts}' for name, contacts in people)
    write_site(folder, free_port(), extra=extra)
    with (folder / "settings.toml").open("a") as settings:
        settings.write(f"[delivery]\ntimeout_s = {timeout_s}\n")
    return folder


def test_a_test_goes_to_every_contact_of_everybody_and_its_first_word_is_test(
    tmp_path: Path, receiver: Receiver
) -> None:
    site = site_of(
        tmp_path / "site",
        ("ana", contact(receiver.url("/1")) + contact(receiver.url("/2"))),
        ("ben", contact(receiver.url("/3"))),
    )
    done = call("test", "--site", site)
    assert done.exit_code == 0
    assert done.stdout.splitlines() == [
        "Ana, contact 1 (webhook): accepted",
        "Ana, contact 2 (webhook): accepted",
        "Ben, contact 1 (webhook): accepted",
    ]
    requests = sorted(receiver.received, key=lambda request: request.path)
    assert [request.path for request in requests] == ["/1", "/2", "/3"]
    for request in requests:
        sent = request.json()
        assert sent["headline"].split()[0] == "TEST:"
        assert (sent["kind"], sent["status"]) == ("test", "test")
        assert "Nothing is wrong" in sent["body"]
        assert sent["sent_at"].endswith("Z")
    assert len({request.json()["message_id"] for request in requests}) == 3


@pytest.mark.parametrize("named", ["ben", "Ben", "BEN"])
def test_a_test_to_one_person_reaches_nobody_else(tmp_path: Path, receiver: Receiver, named: str) -> None:
    site = site_of(tmp_path / "site", ("ana", contact(receiver.url("/1"))), ("ben", contact(receiver.url("/2"))))
    assert call("test", named, "--site", site).exit_code == 0
    assert [request.path for request in receiver.received] == ["/2"]


def test_a_contact_that_refuses_or_hangs_is_told_with_its_reason_ends_with_1_and_does_not_stop_the_others(
    tmp_path: Path, receiver: Receiver
) -> None:
    with Receiver() as refusing, Receiver() as hanging:
        refusing.answer_with(Answer(403))
        hanging.answer_with(Answer(manner=Manner.HANG))
        contacts = contact(refusing.url()) + contact(hanging.url()) + contact(receiver.url())
        site = site_of(tmp_path / "site", ("ana", contacts), timeout_s=0.3)

        def is_told() -> bool:
            # Asked again: with a time-out as short as this, a busy machine may be late with any of the three.
            done = call("test", "--site", site)
            assert done.exit_code == 1
            first, second, third = done.stdout.splitlines()
            return (
                first.startswith("Ana, contact 1 (webhook): not accepted: the receiver answered 403")
                and second.startswith("Ana, contact 2 (webhook): not accepted: ")
                and ("did not answer in time" in second or "held the connection too long" in second)
                and third == "Ana, contact 3 (webhook): accepted"
            )

        def is_told_to_programs() -> bool:
            told = json.loads(call("test", "--json", "--site", site).stdout)
            return [one["accepted"] for one in told] == [False, False, True] and "403" in told[0]["error"]

        wait_until(is_told, "the three lines")
        wait_until(is_told_to_programs, "the same as JSON")
    assert len(receiver.received) >= 2


def test_a_test_is_signed_with_the_key_of_a_file_or_of_a_variable(tmp_path: Path, receiver: Receiver) -> None:
    contacts = contact(receiver.url("/1"), 'signing_key_file = ["key"]') + contact(
        receiver.url("/2"), 'signing_key_variable = "MARAS_KEY"'
    )
    site = site_of(tmp_path / "site", ("ana", contacts))
    (site / "key").write_text(KEY + "\n")
    assert call("test", "--site", site, environment={"MARAS_KEY": KEY}).exit_code == 0
    for request in receiver.received:
        Verifier(KEY).take(request.headers, request.body, int(request.headers["webhook-timestamp"]))


def test_a_person_whom_nobody_knows_is_refused_with_the_nearest_name(tmp_path: Path, receiver: Receiver) -> None:
    site = site_of(tmp_path / "site", ("ana", contact(receiver.url())), ("marcus", ""))
    unknown = call("test", "marcos", "--site", site)
    assert unknown.exit_code == 2
    assert 'Did you mean "marcus"?' in unknown.stderr
    without = call("test", "marcus", "--site", site)
    assert without.exit_code == 2
    assert "has no contact" in without.stderr
    assert receiver.received == ()


def test_where_nobody_is_to_be_told_a_test_says_so_and_a_list_too(tmp_path: Path) -> None:
    site = site_of(tmp_path / "site")
    tested = call("test", "--site", site)
    assert tested.exit_code == 2
    assert "No person has a contact" in tested.stderr
    assert "No person has a contact" in call("list", "--site", site).stdout


def test_the_list_names_people_and_kinds_and_no_address(tmp_path: Path) -> None:
    contacts = (
        contact("https://alerts.example/T0pS3cret") + '[[person.contact]]\nkind = "apprise"\nurl_file = "phone"\n'
    )
    site = site_of(
        tmp_path / "site",
        ("ana", contacts),
        ("ben", contact("https://alerts.example/T0pS3cret", 'signing_key_file = "key"')),
        ("kim", ""),
    )
    (site / "phone").write_text("json://127.0.0.1/T0pS3cret")
    (site / "key").write_text(KEY)
    listed = call("list", "--site", site)
    assert [" ".join(line.split()) for line in listed.stdout.splitlines()] == [
        "person contacts",
        "Ana (ana) webhook, apprise",
        "Ben (ben) webhook, signed",
        "Kim (kim) none: no alert reaches this person",
    ]
    as_json = call("list", "--json", "--site", site)
    assert json.loads(as_json.stdout)[1] == {
        "id": "ben",
        "name": "Ben",
        "contacts": [{"kind": "webhook", "signed": True}],
    }
    assert "T0pS3cret" not in listed.stdout + as_json.stdout


def test_what_was_accepted_ends_what_the_journal_holds_against_a_contact(tmp_path: Path, receiver: Receiver) -> None:
    site = site_of(
        tmp_path / "site", ("ana", contact(receiver.url("/1"))), ("ben", contact(f"http://127.0.0.1:{free_port()}/"))
    )
    with new_journal(site / "data" / "journal.sqlite3") as journal:
        for one in ("ana/0", "ben/0"):
            journal.write(lambda conn, one=one: deliveries.note_failed(conn, one, 1, "it is gone", gone=True))  # type: ignore[misc]
    call("test", "--site", site)
    with new_journal(site / "data" / "journal.sqlite3") as journal, journal.read() as conn:
        assert [row[0] for row in conn.execute("SELECT contact FROM contact_failing")] == ["ben/0"]
