"""What the README says of sizes, against a journal of one day and by hand."""

from pathlib import Path

import pytest

from daemon.storage.journal import Journal
from tests.bench import big_site, sizing
from tests.bench.sizing import Sizes

ROOT = Path(__file__).parent.parent.parent
SECTION = (ROOT / "README.md").read_text(encoding="utf-8").partition("## How large it gets")[2].partition("\n## ")[0]


def test_a_reading_takes_what_the_readme_says(tmp_path: Path) -> None:
    big_site._write_site(tmp_path)
    with Journal.open(tmp_path / "journal.sqlite3") as journal:
        sizing._live(journal, list(big_site.opened(tmp_path, journal).channels.values()), 1)
        taken = sizing._bytes(journal)
    # 20 channels each minute of a day.
    assert taken["sample"] / (20 * 1440) == pytest.approx(52, rel=0.1)
    assert taken["rollup"] / 20 == pytest.approx(13_000, rel=0.1)
    assert "52 bytes in the journal" in SECTION
    assert "13 kB a day" in SECTION


def test_what_follows_for_more_channels() -> None:
    found = Sizes(1, 52.0, 12_600.0, 102.0, 2146.0, 6.9, 1.0, 1.0)
    # By hand: 20 * 1440 * 52 + 20 * 12,600 = 1,749,600 bytes a day; 2000 * 5760 * 365 * 6.9 = 29.0e9 bytes a year.
    assert found.journal_gb(20, 60, 1) == pytest.approx(0.0017496)
    assert found.mirror_gb(2000, 15, 365) == pytest.approx(29.014, abs=0.001)
    assert "| 20 | 60 s | 28,800 | 1.8 MB | 0.6 GB |" in SECTION  # 1.75 MB a day, 0.64 GB a year
    assert [*sizing.lines(found)][-2].startswith("| 2,000 | 15 s | 11,520,000 |")
