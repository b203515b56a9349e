"""The list of checks in README.md says what is true of the files beside it."""

import re
from pathlib import Path

FOLDER = Path(__file__).parent


def test_every_file_that_the_list_names_holds_its_check() -> None:
    text = (FOLDER / "README.md").read_text(encoding="utf-8").split("## Partly here")[0]
    rows = re.findall(r"^\| (X-\d+) \|.*\| (.+) \|$", text, re.MULTILINE)
    assert len(rows) >= 15
    for check, files in rows:
        for name in files.split(", "):
            found = (FOLDER / name).read_text(encoding="utf-8")
            assert name == "test_conditions.py" or re.search(rf"{check}\b", found), (check, name)
