"""The list of checks in README.md says what is true of the files beside it."""

import re
from pathlib import Path

FOLDER = Path(__file__).parent


def test_every_file_that_the_list_names_holds_its_check() -> None:
    text = (FOLDER / "README.md").read_text(encoding="utf-8").split("## Not there yet")[0]
    rows = re.findall(r"^\| (X-[X\d, -]+) \|.*\| (.+) \|$", text, re.MULTILINE)
    assert len(rows) >= 30
    named = [(check, name) for checks, files in rows for check in checks.split(", ") for name in files.split(", ")]
    for check, name in named:
        if name == "test_conditions.py" or (FOLDER / name).is_dir():
            continue
        assert re.search(rf"{check}\b", (FOLDER / name).read_text(encoding="utf-8")), (check, name)
