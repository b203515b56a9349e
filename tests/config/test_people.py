"""People for emergencies, and times of day as people write them."""

from datetime import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from config.errors import StatedError
from config.site import read_site
from config.time_of_day import read_time_of_day


@given(st.times().map(lambda each: each.replace(second=0, microsecond=0)))
def test_every_minute_of_the_day_is_read_as_text_and_as_toml_has_it(moment: time) -> None:
    assert read_time_of_day(f"{moment:%H:%M}") == moment
    assert read_time_of_day(moment) == moment


NOT_A_TIME = ["24:00", "7:00", "22:60", "22.00", "22:00:00", "22:00Z", "2\u0662:00", "", 2200, 22.5, True, None, []]


@pytest.mark.parametrize("stated", NOT_A_TIME)
def test_what_is_no_time_of_day_is_refused_with_an_example(stated: Any) -> None:
    with pytest.raises(StatedError) as refusal:
        read_time_of_day(stated)
    assert '"23:59"' in refusal.value.hint


def test_quiet_hours_and_emergency_contacts_are_read(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(
        '[site]\nname = "x"\ntime_zone = "UTC"\n[quiet]\nstart = "22:00"\nend = 07:00:00\n'
        '[[person]]\nid = "a"\nname = "A"\n[[person]]\nid = "b"\nname = "B"\nemergency = true\n',
        encoding="utf-8",
    )
    site = read_site(tmp_path).site
    assert site is not None
    assert site.quiet is not None
    assert (site.quiet.start, site.quiet.end) == (time(22), time(7))
    assert [person.emergency for person in site.people] == [False, True]


@pytest.mark.parametrize("stated", ['"yes"', "1", '"true"'])
def test_an_emergency_is_true_or_false_and_nothing_like_it(tmp_path: Path, stated: str) -> None:
    (tmp_path / "site.toml").write_text(
        f'[site]\nname = "x"\ntime_zone = "UTC"\n[[person]]\nid = "a"\nname = "A"\nemergency = {stated}\n',
        encoding="utf-8",
    )
    [mistake] = [each for each in read_site(tmp_path).mistakes if each.severity == "mistake"]
    assert mistake.key == "person.a.emergency"
    assert "true or false without quotes" in mistake.hint
