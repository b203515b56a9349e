"""An InfluxDB that asks who it is: Debian's engine with `auth-enabled`, by a user's name and password as a token."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.mirror_query import MirrorReader
from tests.conftest import require
from tests.mirror.house import BUCKET, Mirrored
from tests.mirror.test_commands import in_site, run
from tests.support.influxdb import InfluxDb

pytestmark = pytest.mark.services
RIGHT, WRONG = "barn:nests-and-eggs", "barn:eggs-and-nests"
ELSEWHERE = "other:may-not-write-here"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Mirrored]:
    engine = InfluxDb(tmp_path / "influxdb", require(shutil.which("influxd"), "InfluxDB"), asks_who=True)
    engine.start()
    made = Mirrored(tmp_path, engine)
    for credentials in (RIGHT, ELSEWHERE):
        user, _, password = credentials.partition(":")
        engine.query(f"CREATE USER \"{user}\" WITH PASSWORD '{password}'")
    engine.query(f'GRANT ALL ON "{BUCKET}" TO "barn"')
    (made.folder / "token").chmod(0o600)
    yield made
    made.journal.close()
    engine.stop()


def sign_in(house: Mirrored, token: str) -> None:
    (house.folder / "token").write_text(token)


def test_a_wrong_token_is_told_in_words_and_the_right_one_works(house: Mirrored) -> None:
    house.store(0, 20)
    for token in (WRONG, ELSEWHERE):
        sign_in(house, token)
        told = run("check", str(house.folder)).output
        why = "it does not accept the token" if token is WRONG else "the token may not write there"
        assert why in told, told
        assert "Make a token that may write to and read from this bucket" in told
        assert token not in told
        assert token.partition(":")[2] not in told
    sign_in(house, RIGHT)
    assert "mirror" not in run("check", str(house.folder)).output
    filled = in_site(house, "backfill")
    assert filled.exit_code == 0, filled.output
    assert in_site(house, "compare").exit_code == 0
    with MirrorReader(house.settings) as reader:
        [counted] = reader.ask("SELECT count(value) FROM reading")
    assert counted.rows[0][1] == 40
    sign_in(house, WRONG)
    refused = in_site(house, "compare")
    assert refused.exit_code != 0
    assert "it does not accept the token" in str(refused.exception)
