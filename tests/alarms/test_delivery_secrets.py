"""Nothing that is secret in a contact reaches the log, an error, the journal, a page or `/health`.

Every kind of contact, and every way in which a receiver may fail.
"""

import json
import logging
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pytest
from typer.testing import CliRunner

from daemon import cli
from daemon.clock import AcceleratedClock
from daemon.commands.site_folder import read_site
from daemon.contacts import channel_for
from daemon.service import Service, Stated
from daemon.storage.journal import Journal
from tests.alarms.messages import message
from tests.alarms.outboxes import all_text, put, rows, wait_for_attempts
from tests.support.household import now_ms, write_site
from tests.support.mailbox import LOGIN, PASSWORD, Mailbox
from tests.support.mailbox import Manner as MailManner
from tests.support.processes import free_port
from tests.support.receiver import Answer, Manner, Receiver
from tests.support.secrets import assert_no_secret, secrets_of

pytestmark = [
    pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning"),
    pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS:UserWarning"),
]

PATH = "/hooks/T0pS3cret/x9Yz-42?token=qu3ryT0ken"
USER = "keeper-login:pa55phrase"
KEY = "whsec_TWFyYXMta2V5LTAxMjM0NTY3ODktYWJjZGVmZw=="
KEY_TEXTS = (KEY, KEY.removeprefix("whsec_"), "Maras-key-0123456789-abcdefg")
TIMEOUT_S = 0.3

RECEIVERS = {
    "accepts": Answer(200),
    "redirects": Answer(301, {"Location": "/elsewhere"}),
    "refuses": Answer(401),
    "gone": Answer(410),
    "fails": Answer(503),
    "hangs": Answer(manner=Manner.HANG),
    "hangs up": Answer(manner=Manner.CLOSE_EARLY),
    "drips": Answer(manner=Manner.DRIP_HEADERS),
}
MAILBOXES = {
    "accepts": MailManner.TAKE,
    "refuses": MailManner.REFUSE,
    "refuses the recipient": MailManner.REFUSE_RECIPIENT,
    "hangs": MailManner.HANG,
    "hangs at the login": MailManner.HANG_AT_LOGIN,
    "hangs up": MailManner.HANG_UP,
}


@dataclass
class Case:
    """A contact as it stands in `site.toml`, the files beside it, and what nobody may read."""

    toml: str
    files: dict[str, str]
    secrets: tuple[str, ...]


def webhook(answer: Answer | None, ending: ExitStack) -> Case:
    receiver = ending.enter_context(Receiver())
    url = receiver.url(PATH, user=USER) if answer else f"http://{USER}@127.0.0.1:{free_port()}{PATH}"
    receiver.answer_with(answer or Answer())
    toml = 'kind = "webhook"\nurl_file = "secrets/url"\nsigning_key_file = "secrets/key"\n'
    return Case(toml, {"url": url, "key": KEY}, (*secrets_of(url), *KEY_TEXTS))


def push(answer: Answer | None, ending: ExitStack) -> Case:
    receiver = ending.enter_context(Receiver())
    receiver.answer_with(answer or Answer())
    path = PATH.partition("?")[0]
    url = receiver.url(path, "json", USER) if answer else f"json://{USER}@127.0.0.1:{free_port()}{path}"
    return Case('kind = "apprise"\nurl_file = "secrets/url"\n', {"url": url}, secrets_of(url))


def mail(manner: MailManner | None, ending: ExitStack) -> Case:
    mailbox = ending.enter_context(Mailbox(needs_login=True))
    mailbox.manner = manner or MailManner.TAKE
    if manner is None:
        mailbox.port = free_port()
    url = mailbox.url(f"{LOGIN}:{PASSWORD}", "s3cret-address@site.example")
    hidden = (url, LOGIN, PASSWORD, "s3cret-address")
    return Case('kind = "apprise"\nurl_file = "secrets/url"\n', {"url": url}, hidden)


Make = Callable[[ExitStack], Case]
CASES: dict[str, Make] = {
    **{f"webhook {name}": partial(webhook, answer) for name, answer in RECEIVERS.items()},
    **{f"push {name}": partial(push, answer) for name, answer in RECEIVERS.items()},
    **{f"mail {name}": partial(mail, manner) for name, manner in MAILBOXES.items()},
    "webhook away": partial(webhook, None),
    "push away": partial(push, None),
    "mail away": partial(mail, None),
}


@pytest.fixture(params=CASES)
def case(request: pytest.FixtureRequest) -> Iterator[Case]:
    with ExitStack() as ending:
        yield CASES[request.param](ending)


def site_with(folder: Path, case: Case) -> Path:
    """A site with one person, whose contact is the case's; the broker is the inner one."""
    contact = f'[[person]]\nid = "mara"\nname = "Mara"\n[[person.contact]]\n{case.toml}'
    write_site(folder, free_port(), extra=contact)
    settings = folder / "settings.toml"
    inner = settings.read_text().replace("[broker]\n", "[broker]\nembedded = true\n")
    settings.write_text(f"{inner}[delivery]\ntimeout_s = {TIMEOUT_S}\n")
    (folder / "secrets").mkdir()
    for name, text in case.files.items():
        (folder / "secrets" / name).write_text(text + "\n")
    return folder


def test_a_channel_says_nothing_secret(tmp_path: Path, case: Case, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    site = read_site(site_with(tmp_path / "site", case))
    [contact] = site.site.people[0].contacts
    channel = channel_for(contact, site.folder, TIMEOUT_S)
    result = channel.send(message())
    texts = [repr(result), repr(channel), str(vars(channel)), repr(contact), str(site.site.model_dump()), caplog.text]
    assert_no_secret(texts, case.secrets)


def test_the_command_that_sends_a_test_and_the_one_that_lists_say_nothing_secret(tmp_path: Path, case: Case) -> None:
    folder = site_with(tmp_path / "site", case)
    runs = [
        CliRunner().invoke(cli.app, ["contacts", *arguments, "--site", str(folder)])
        for arguments in (["list"], ["list", "--json"], ["test"], ["test", "--json"])
    ]
    assert [run.exit_code for run in runs[:2]] == [0, 0]
    assert {run.exit_code for run in runs[2:]} <= {0, 1}
    assert_no_secret([run.output for run in runs], case.secrets)


def asked(url: str) -> str:
    """The body of a page, whatever its status."""
    try:
        with urllib.request.urlopen(url, timeout=20) as answer:
            return str(answer.read().decode())
    except urllib.error.HTTPError as error:
        with error:
            return error.read().decode()


@pytest.mark.parametrize("name", ["webhook gone", "webhook hangs", "push refuses", "mail refuses", "mail hangs"])
def test_a_running_daemon_tells_that_an_alert_did_not_arrive_and_nothing_secret_about_it(
    tmp_path: Path, name: str, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with ExitStack() as ending:
        case = CASES[name](ending)
        site = read_site(site_with(tmp_path / "site", case))
        with Journal.open(site.settings.storage.journal) as journal:
            put(journal, "m", "mara/0", created_at_ms=now_ms())
        whole = Stated(site.folder, site.site, site.settings, site.profiles)
        service = Service(whole, AcceleratedClock(now_ms(), 60), sign_in=False)
        service.start()
        ending.callback(service.stop)
        attempts = 1 if name == "webhook gone" else 2
        wait_for_attempts(service.journal, "m", attempts)
        health = json.loads(asked(f"{service.page_url}health"))
        pages = [asked(f"{service.page_url}{path}") for path in ("", "messages", "health")]
        assert any("did not reach Mara" in reason for reason in health["reasons"])
        assert health["healthy"] is False
        assert "did not reach Mara" in pages[0]
        assert rows(service.journal)["m"].error
        assert_no_secret([*pages, all_text(service.journal), caplog.text], case.secrets)


def test_the_helper_that_looks_for_secrets_finds_one_and_refuses_to_look_for_nothing() -> None:
    with pytest.raises(AssertionError, match="leaks"):
        assert_no_secret(["it failed: https://alerts.example/hooks/T0pS3cret"], secrets_of("https://h/T0pS3cret"))
    with pytest.raises(AssertionError, match="no secret"):
        assert_no_secret(["a text"], [])
