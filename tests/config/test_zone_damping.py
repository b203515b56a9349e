"""How long the warnings of a zone wait for its eggs to follow the air."""

from pathlib import Path

import pytest
from pydantic import ValidationError

from config.model import DAMPING_MIN
from config.site import Zone, load_site

SITE = """\
[site]
name = "Here"
time_zone = "UTC"
[[incubator]]
id = "north"
name = "North cabinet"
[[incubator.zone]]
id = "upper"
name = "upper shelf"
damping_min = 25
[[incubator.zone]]
id = "lower"
name = "lower shelf"
[[person]]
id = "mara"
name = "Mara"
[[person.contact]]
kind = "webhook"
url = "https://example.org/x"
"""


def test_a_zone_is_damped_as_it_states_and_by_ten_minutes_where_it_states_nothing(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    [north] = load_site(tmp_path).incubators
    assert [zone.damping_min for zone in north.zones] == [25, DAMPING_MIN]
    assert DAMPING_MIN == 10


@pytest.mark.parametrize("damping_min", [0, 0.5, 60])
def test_from_none_to_an_hour_is_accepted(damping_min: float) -> None:
    assert Zone(id="upper", name="upper shelf", damping_min=damping_min).damping_min == damping_min


@pytest.mark.parametrize("damping_min", [-1, 60.5, float("nan"), float("inf"), "10"])
def test_what_would_hold_a_warning_back_for_too_long_or_is_no_time_is_refused(damping_min: float) -> None:
    with pytest.raises(ValidationError):
        Zone(id="upper", name="upper shelf", damping_min=damping_min)
