"""What `clutchwarden check` counts as people to tell."""

import sys
from pathlib import Path

import pytest

from daemon.cli import main
from tests.support.household import write_site

WITHOUT = '[[person]]\nid = "{0}"\nname = "{0}"\n'
WITH = WITHOUT + '[[person.contact]]\nkind = "webhook"\nurl = "http://127.0.0.1:9/{0}"\n'


@pytest.mark.parametrize(
    ("people", "counted"),
    [
        ([WITHOUT.format("ben"), WITHOUT.format("cleo")], "0 people to tell and 2 without a contact, "),
        ([WITH.format("ben"), WITHOUT.format("cleo")], "1 person to tell and 1 without a contact, "),
        ([WITH.format("ben"), WITH.format("cleo")], "2 people to tell, "),
    ],
)
def test_whoever_has_no_contact_is_nobody_to_tell(
    tmp_path: Path,
    people: list[str],
    counted: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = write_site(tmp_path, 1883, extra="".join(people))
    monkeypatch.setattr(sys, "argv", ["clutchwarden", "check", "--site", str(folder)])
    with pytest.raises(SystemExit) as ended:
        main()
    said = capsys.readouterr().out
    assert ended.value.code == 0, said
    assert counted in said
    assert ("no person has a contact" in said) is counted.startswith("0")
