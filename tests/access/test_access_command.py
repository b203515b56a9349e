"""`clutchwarden access`: what a keeper types on the machine, and what `run` prints where there is no account yet."""

import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from config.site import load_site
from daemon import cli
from daemon.access.values import Refused, Role, SignedIn
from daemon.access_desk import AccessDesk
from daemon.clock import SystemClock
from tests.access.desk import GOOD, HOME, OTHER, PHONE
from tests.support.household import write_site
from tests.support.journals import new_journal
from tests.support.processes import Service, free_port, wait_until

CODE = re.compile(r"\b([0-9A-Z]{4}(?:-[0-9A-Z]{4}){5})\b")


class Typed:
    """A site folder, its desk beside the commands, and the commands, typed by kim."""

    def __init__(self, folder: Path) -> None:
        self.folder = write_site(folder, free_port())
        self.journal = new_journal(self.folder / "data" / "journal.sqlite3")
        self.desk = AccessDesk(self.journal, load_site(self.folder), SystemClock().now_ms)

    def __call__(self, *arguments: str) -> Result:
        env = {"USER": "kim", "LOGNAME": "kim", "SUDO_USER": "", "CLUTCHWARDEN_SITE": str(self.folder)}
        return CliRunner().invoke(cli.app, ["access", *arguments], env=env)

    def code(self, *arguments: str) -> str:
        done = self(*arguments)
        assert done.exit_code == 0, done.output
        [found] = CODE.findall(done.stdout)
        return str(found)

    def refusal(self, *arguments: str) -> str:
        done = self(*arguments)
        assert (done.exit_code, done.stdout) == (2, ""), done.output
        return done.stderr.strip()

    def listed(self, *arguments: str) -> list[dict[str, object]]:
        done = self(*arguments, "--json")
        assert done.exit_code == 0, done.output
        found: list[dict[str, object]] = json.loads(done.stdout)
        return found

    def accept(self, code: str, name: str = "", password: str = GOOD) -> SignedIn:
        done = self.desk.accept(code, name, password, HOME, PHONE)
        assert isinstance(done, SignedIn), done
        return done


@pytest.fixture
def access(tmp_path: Path) -> Iterator[Typed]:
    typed = Typed(tmp_path / "site")
    yield typed
    typed.journal.close()


@pytest.fixture
def kept(access: Typed) -> Typed:
    """With a keeper, mara, who is signed in."""
    access.accept(access.code("first"), "mara")
    return access


def test_the_first_code_is_made_again_until_there_is_a_keeper(access: Typed) -> None:
    assert "clutchwarden access first" in access("list").stdout
    old, new = access.code("first"), access.code("first")
    assert isinstance(access.desk.accept(old, "mara", GOOD, HOME, PHONE), Refused)
    access.accept(new, "mara")
    assert "access invite" in access.refusal("first")


def test_somebody_is_invited_listed_given_another_role_and_closed(kept: Typed) -> None:
    jonas = kept.accept(kept.code("invite", "jonas", "--role", "viewer"), password=OTHER)
    assert jonas.visitor.role is Role.VIEWER
    assert kept("role", "jonas", "responder").exit_code == 0
    assert [(each["name"], each["role"]) for each in kept.listed("list")] == [
        ("jonas", "responder"),
        ("mara", "keeper"),
    ]
    assert kept("close", "jonas").exit_code == 0
    assert kept.desk.visitor(jonas.token, HOME) is None
    assert [each["name"] for each in kept.listed("list")] == ["mara"]
    assert [each["name"] for each in kept.listed("list", "--all")] == ["jonas", "mara"]
    assert "closed since" in kept("list", "--all").stdout


def test_what_cannot_be_done_is_said_and_ends_with_2(kept: Typed) -> None:
    assert "last keeper" in kept.refusal("close", "mara")
    assert "last keeper" in kept.refusal("role", "mara", "viewer")
    assert "no account" in kept.refusal("close", "nora")
    assert "letters without accents" in kept.refusal("invite", "Jonas K")
    assert "no session 4711" in kept.refusal("end", "4711")
    assert "no key" in kept.refusal("key", "withdraw", "grafter")


def test_a_browser_is_signed_out(kept: Typed) -> None:
    done = kept.desk.sign_in("mara", GOOD, "", HOME, PHONE)
    assert isinstance(done, SignedIn)
    number = done.visitor.session
    listed = kept.listed("sessions")
    assert {"account": "mara", "device": "Firefox, Android", "address": HOME}.items() <= listed[0].items()
    assert number in [each["number"] for each in listed]
    assert kept("end", str(number)).exit_code == 0
    assert kept.desk.visitor(done.token, HOME) is None
    assert "Firefox, Android" in kept("sessions").stdout


def test_a_key_is_shown_once(kept: Typed) -> None:
    made = kept("key", "add", "grafter", "--role", "responder")
    key = made.stdout.strip()
    visitor = kept.desk.visitor_of_key(key)
    assert visitor is not None
    assert (visitor.who, visitor.role) == ("grafter", Role.RESPONDER)
    assert "Authorization: Bearer" in made.stderr
    assert [each["name"] for each in kept.listed("key", "list")] == ["grafter"]
    shown = kept("key", "list").output + kept("audit").output + kept("audit", "--json").output
    assert "grafter" in shown
    assert key not in shown
    assert kept("key", "withdraw", "grafter").exit_code == 0
    assert kept.desk.visitor_of_key(key) is None
    assert kept("key", "list").stdout == "No key is in use.\n"


def test_the_audit_says_who_typed_it_and_where(kept: Typed) -> None:
    kept("invite", "jonas", "--who", "Aunt Vera")
    newest, *_, oldest = kept.listed("audit")
    assert {"who": "Aunt Vera", "from": "host", "what": "invited", "about": "jonas"}.items() <= newest.items()
    assert {"who": "kim", "from": "host", "what": "first code made"}.items() <= oldest.items()
    assert [each["about"] for each in kept.listed("audit", "--about", "jonas", "--limit", "5")] == ["jonas"]


def run(folder: Path, log: Path) -> Service:
    """`clutchwarden run`, its log in a file of its own: what it prints is another."""
    command = ["sh", "-c", 'exec "$0" -m daemon.cli run "$1" 2>>"$2"', sys.executable, str(folder), str(log)]
    return Service(command, folder / "printed")


def test_run_prints_a_code_where_there_is_no_account_and_never_logs_it(access: Typed, tmp_path: Path) -> None:
    log = tmp_path / "log"
    service = run(access.folder, log)
    service.start()
    wait_until(lambda: "access first" in service.output() or not service.running, "the first code", 60)
    assert service.running, log.read_text()
    [code] = CODE.findall(service.output())
    assert "/welcome and enter this code: " in service.output()
    access.accept(code, "mara")
    assert service.stop(how=signal.SIGTERM) == 0
    assert "is being watched" in log.read_text()
    assert code not in log.read_text()
    before = service.output()
    service.start()
    wait_until(lambda: log.read_text().count("is being watched") == 2 or not service.running, "the second start", 60)
    service.stop()
    assert service.output() == before


def test_the_command_ends_in_a_sentence_where_the_site_has_mistakes(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "daemon.cli", "access", "list", "--site", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "site.toml" in done.stderr
    assert "Traceback" not in done.stderr
