"""The watcher's file: what is refused, and how it is said."""

from pathlib import Path

import pytest

from config.errors import ConfigError
from config.watch import load_watch

EXAMPLE = Path(__file__).parent.parent.parent / "config" / "example" / "watch.toml"
SECRET = "T0ken-4711-abcdefgh"
HEAD = 'name = "Test house"\ntime_zone = "Europe/Madrid"\n'
POLL = '[poll]\nurl = "http://daemon.example:8330/health"\n'
PERSON = '[[person]]\nid = "ana"\nname = "Ana"\n[[person.contact]]\nkind = "webhook"\nurl = "http://a.example/hook"\n'
LISTEN = '[listen]\ntoken_file = "token"\n'


def write(folder: Path, text: str) -> Path:
    path = folder / "watch.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_example_is_without_mistakes_and_states_the_defaults(tmp_path: Path) -> None:
    example = load_watch(EXAMPLE).stated
    plain = load_watch(write(tmp_path, HEAD + POLL + PERSON)).stated
    assert (example.alarm, example.page, example.delivery) == (plain.alarm, plain.page, plain.delivery)
    assert example.poll is not None
    assert plain.poll is not None
    assert (example.poll.every_s, example.poll.timeout_s) == (plain.poll.every_s, plain.poll.timeout_s)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        (HEAD + PERSON, "", "neither [poll] nor [listen]"),
        (HEAD + POLL + LISTEN + PERSON, "", "both [poll] and [listen]"),
        (HEAD + POLL, "person", "nobody is named"),
        (HEAD + POLL + PERSON + PERSON, "person.ana.id", "two people"),
        (HEAD.replace("Madrid", "Madird") + POLL + PERSON, "time_zone", "not in the IANA"),
        (POLL + PERSON + "[alarm]\n" + HEAD, "name", "is missing"),
        (HEAD + POLL + PERSON + "[alarm]\nsilence_s = 121\n", "alarm.silence_s", "121 is not"),
        (HEAD + POLL + PERSON + "[alarm]\nsilence_s = 50\n", "", "one answer that is late"),
        (HEAD + POLL + PERSON + "[alarm]\nsilense_s = 50\n", "alarm.silense_s", "not a key"),
        (HEAD + f'[poll]\nurl = "{SECRET}"\n' + PERSON, "poll.url", "not a web address"),
        (HEAD + f'[poll]\nadress = "{SECRET}"\n' + PERSON, "poll.adress", "not a key"),
        (HEAD + '[poll]\nurl_file = "missing"\n' + PERSON, "poll.url_file", "cannot be read"),
        (HEAD + '[listen]\ntoken_file = "missing"\n' + PERSON, "listen.token_file", "cannot be read"),
        (HEAD + '[listen]\ntoken_file = "short"\n' + PERSON, "listen.token_file", "the token needs 16"),
        (HEAD + POLL + PERSON + '[page]\nurl = "watcher.example"\n', "page.url", "not a web address"),
        (HEAD + POLL + PERSON.replace("http://a.example/hook", SECRET), "person.ana.contact#1.url", "a web address"),
        (HEAD + POLL + PERSON + 'extra = "x"', "person.ana.contact#1.extra", "not a key"),
        (HEAD + "[poll\n", "", "not valid TOML"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_file_key_and_reason(
    tmp_path: Path, text: str, key: str, said: str
) -> None:
    (tmp_path / "short").write_text("T0ken-4711", encoding="utf-8")
    (tmp_path / "token").write_text(SECRET, encoding="utf-8")
    with pytest.raises(ConfigError) as refused:
        load_watch(write(tmp_path, text))
    found = [mistake for mistake in refused.value.mistakes if mistake.key == key]
    assert [one for one in found if said in one.reason], refused.value
    assert {one.file for one in refused.value.mistakes} == {"watch.toml"}
    assert "T0ken-4711" not in str(refused.value)
    assert all(one.hint for one in refused.value.mistakes)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="there is no such file"):
        load_watch(tmp_path / "nowhere.toml")


def test_secrets_are_in_no_form_of_the_file(tmp_path: Path) -> None:
    (tmp_path / "token").write_text(SECRET, encoding="utf-8")
    file = load_watch(write(tmp_path, HEAD + LISTEN + PERSON.replace("/hook", f"/{SECRET}")))
    assert file.heartbeat_token is not None
    assert file.heartbeat_token.get_secret_value() == SECRET
    assert SECRET not in repr(file)
    assert file.state_path == tmp_path / "watch.state.json"
