"""A copy of the end of the chain lies outside the journal: in each digest and each weekly test."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from daemon.alarms.delivery import OutgoingMessage
from daemon.chain_rules import read_code
from daemon.digest_text import LONGEST_DIGEST, digest_text
from daemon.verify import verify
from tests.daemon.test_digest_text import CALM, clutch, place
from tests.support.lettered import LetteredHouse, lettered_house

CODE = "18204-7K0Q-M2XW-D9R4-TABC"


@pytest.fixture
def house(tmp_path: Path) -> Iterator[LetteredHouse]:
    with lettered_house(tmp_path, "2026-11-25T12:00") as made:
        yield made


def _code(message: OutgoingMessage) -> str:
    found = re.search(r"^Code of the journal: (\S+)$", message.body, re.MULTILINE)
    assert found is not None, message.body
    return found[1]


def test_letters_carry_a_code_that_is_found_in_the_chain_later(house: LetteredHouse) -> None:
    house.at("2026-11-28T07:30")
    house.at("2026-11-29T18:00")
    [digest, *_] = house.messages("digest")["ana/0"]
    [weekly] = house.messages("test")["ana/0"]
    for code in (_code(digest), _code(weekly)):
        head = read_code(code)
        assert head is not None
        found = verify(house.journal.path, head=head)
        assert (found.head_found, found.faults) == (True, ())


def test_the_code_of_a_digest_stays_however_much_there_is_to_tell() -> None:
    crowded = replace(
        CALM,
        places=tuple(place(f"Cabinet {number}") for number in range(40)),
        clutches=tuple(clutch(f"Clutch {number}") for number in range(60)),
        journal_code=CODE,
    )
    text = digest_text(crowded)
    assert text.body.splitlines()[-1] == f"Code of the journal: {CODE}"
    assert len(text.headline) + 1 + len(text.body) <= LONGEST_DIGEST
