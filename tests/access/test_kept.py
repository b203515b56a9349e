"""What the journal keeps of all this: sessions over a kill, and no secret."""

import signal
import stat
import subprocess
import sys
from pathlib import Path

import pyotp

from daemon.access.codes import as_drawn
from daemon.access.values import Refused, Role, SignedIn
from daemon.storage import accounts
from daemon.storage.audit import HOST
from tests.access.desk import AWAY, GOOD, HOME, OTHER, PHONE, AtDesk


def test_who_signed_in_before_a_kill_is_signed_in_after_it(at: AtDesk, tmp_path: Path) -> None:
    at.first_keeper()
    command = [sys.executable, "-m", "tests.access.killed", str(tmp_path), str(at.now_ms)]
    killed = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    token = killed.stdout.strip()
    visitor = at.desk.visitor(token, HOME)
    assert visitor is not None
    assert (visitor.who, visitor.role) == ("mara", Role.KEEPER)
    with at.journal.read() as conn:
        assert accounts.tries(conn, 1, accounts.STRANGERS).failures == 1


def test_the_journal_is_for_its_owner_alone(house: AtDesk) -> None:
    files = sorted(house.journal.path.parent.glob("journal.sqlite3*"))
    assert len(files) >= 2
    assert {stat.S_IMODE(path.stat().st_mode) for path in files} == {0o600}


def everything_secret(at: AtDesk) -> set[str]:
    """Go through all that one can do at the desk, and give every secret that was typed or shown on the way."""
    made = at.desk.first_code(None, HOST)
    assert not isinstance(made, Refused)
    opened = at.desk.accept(made[0], "mara", GOOD, HOME, PHONE)
    assert isinstance(opened, SignedIn)
    invited = at.desk.invite(opened.visitor, "jonas", Role.RESPONDER, HOME)
    assert not isinstance(invited, Refused)
    jonas = at.desk.accept(invited[0], "jonas", OTHER, AWAY, PHONE)
    assert isinstance(jonas, SignedIn)
    key = at.desk.add_key(opened.visitor, "grafter", Role.VIEWER, HOME)
    assert isinstance(key, str)
    at.desk.visitor_of_key(key)
    again = at.desk.confirm(opened.token, GOOD, "", HOME)
    assert isinstance(again, SignedIn)
    new = "nine wooden trays dry outside"
    changed = at.desk.change_password(again.token, GOOD, new, HOME)
    assert isinstance(changed, SignedIn)
    drawn, uri = at.desk.begin_second_factor(changed.visitor)
    digits = pyotp.TOTP(drawn).at(at.now_ms // 1000)
    assert at.desk.finish_second_factor(changed.token, drawn, digits, HOME) is None
    wrong = "a wrong one with some words"
    at.refused("mara", wrong, AWAY)
    at.refused(wrong, GOOD, AWAY)
    at.refused("mara", new, HOME, digits)
    at.desk.accept("MJNK-7777-8888-9999-AAAA-BBBB", wrong, wrong, AWAY, PHONE)
    assert at.desk.drop_second_factor(changed.token, new, HOME) is None
    at.desk.sign_out(jonas.token)
    at.all_written()
    signed = (opened, jonas, again, changed)
    codes = (made[0], invited[0], "MJNK-7777-8888-9999-AAAA-BBBB")
    return {
        *(GOOD, OTHER, new, wrong, key, uri),
        *(each.token for each in signed),
        *(each.visitor.guard for each in signed),
        *codes,
        *(as_drawn(code) for code in codes),
    }


def test_no_secret_stands_in_the_journal_in_clear(at: AtDesk) -> None:
    secrets = everything_secret(at)
    kept = at.everything()
    assert b"grafter" in kept, "this would find them"
    assert {secret for secret in secrets if secret.encode() in kept} == set()


def test_the_second_factors_secret_stands_in_its_own_row_alone(at: AtDesk) -> None:
    """RFC 6238 works the codes out from it, so it has to be kept; nothing tells it to anybody."""
    at.first_keeper()
    signed = at.sign_in()
    drawn, _ = at.desk.begin_second_factor(signed.visitor)
    at.desk.finish_second_factor(signed.token, drawn, pyotp.TOTP(drawn).at(at.now_ms // 1000), HOME)
    with at.journal.read() as conn:
        account = accounts.find(conn, "mara")
        tables = [name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        holding = [name for name in tables if any(drawn in str(row) for row in conn.execute(f'SELECT * FROM "{name}"'))]
    assert holding == ["account"]
    assert account is not None
    assert drawn not in repr(account)


def test_nothing_secret_is_in_what_is_shown(at: AtDesk) -> None:
    secrets = everything_secret(at)
    shown = repr((at.desk.accounts(), at.desk.keys(), at.desk.all_sessions(), at.audit()))
    assert {secret for secret in secrets if secret in shown} == set()


def test_every_change_is_on_record(at: AtDesk) -> None:
    everything_secret(at)
    assert at.words() == [
        ("host", "first code made", "the first account"),
        ("mara", "account opened", "mara"),
        ("mara", "invited", "jonas"),
        ("jonas", "account opened", "jonas"),
        ("mara", "key made", "grafter"),
        ("mara", "password confirmed", "mara"),
        ("mara", "password changed", "mara"),
        ("mara", "second factor on", "mara"),
        ("nobody", "sign-in refused", "mara"),
        ("nobody", "sign-in refused", "a name that nobody has"),
        ("nobody", "sign-in refused", "mara"),
        ("nobody", "code refused", "an invitation"),
        ("mara", "second factor off", "mara"),
        ("jonas", "sign-out", "jonas"),
    ]
