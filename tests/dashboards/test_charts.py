"""The page of charts, its data and its export, asked of a real journal."""

import csv
import gzip
import io
from collections.abc import Iterator

import pytest
from httpx import Response

from config.words import Quantity
from daemon.storage import samples
from dashboards.chart_request import MOST_CHANNELS
from dashboards.charts import DRAWN_BUCKETS
from dashboards.plotly_script import plotly_address
from sensors.reading import ChannelKey, Quality, Reading
from tests.dashboards.asking import ask
from tests.support.charted import (
    AIR,
    DAY_MS,
    DOOR,
    EVERY_MS,
    GAP_MS,
    HOUR_MS,
    HUMIDITY,
    NOW_MS,
    SOUTH,
    SPIKE_C,
    SPIKE_MS,
    SUSPECT_MS,
    Charted,
    charted,
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Charted]:
    with charted(tmp_path_factory.mktemp("charted")) as opened:
        yield opened


def page(made: Charted, query: str = "") -> Response:
    return ask(made.app, f"/charts{query}")


def plain(answer: Response) -> str:
    return answer.text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_without_a_choice_the_first_incubator_of_the_last_day_is_shown(made: Charted) -> None:
    answer = page(made)
    assert answer.status_code == 200
    text = plain(answer)
    assert "Tue 30 Jun 2026, 14:00 to Wed 1 Jul 2026, 14:00" in text
    assert text.count('class="drawing"') == 2
    assert 'value="24h" checked' in text
    assert "<figcaption><b>Air temperature, upper shelf (probe north-air)</b>" in text
    assert 'value="north-air/t" checked' in text
    assert 'value="south-air/t">' in text


def test_a_year_has_no_more_stretches_than_are_drawn_and_the_spike_is_in_drawing_and_table(made: Charted) -> None:
    start = NOW_MS - 365 * DAY_MS
    text = plain(page(made, f"?channel={AIR}&period=own&from={start}&until={NOW_MS}"))
    assert "<td>36.5 °C</td>" in text
    [line] = [part.split('d="')[1] for part in text.split("<path") if 'class="drawn-line"' in part]
    assert 0 < line.count("L") <= DRAWN_BUCKETS
    answer = ask(made.app, f"/api/series?channel={AIR}&from={start}&until={NOW_MS}&width=360")
    [found] = answer.json()["series"]
    columns = found["buckets"]
    assert len(columns["good"]) <= 360
    [tall] = [n for n, most in enumerate(columns["most"]) if most is not None and most > 30]
    assert columns["most"][tall] == SPIKE_C
    assert columns["start_ms"][tall] <= SPIKE_MS < columns["start_ms"][tall] + found["width_ms"]


def test_a_gap_and_a_suspect_reading_are_told_apart_from_what_is_good(made: Charted) -> None:
    start = NOW_MS - DAY_MS
    [found] = ask(made.app, f"/api/series?channel={AIR}&from={start}&until={NOW_MS}&width=2000").json()["series"]
    columns = found["buckets"]
    [after] = [n for n, gap in enumerate(columns["gap_before"]) if gap]
    # The readings at the edges of the gap are there; between them is nothing.
    assert (columns["last_ms"][after - 1], columns["first_ms"][after]) == GAP_MS
    [doubtful] = [n for n, count in enumerate(columns["suspect"]) if count]
    assert (columns["suspect_most"][doubtful], columns["good"][doubtful]) in ((85.0, 0), (85.0, 1))
    assert columns["start_ms"][doubtful] <= SUSPECT_MS + 1 < columns["start_ms"][doubtful] + found["width_ms"]
    assert max(most for most in columns["most"] if most is not None) < 30
    text = plain(page(made, f"?channel={AIR}"))
    assert text.count('class="drawn-gap"') == 1
    # 22:00 to 02:00 on the clock of the site; hatched, since a colour alone would not be seen by everybody.
    assert text.count("<title>No good readings from 30 Jun, 22:00 to 1 Jul, 02:00</title>") == 1
    assert 'fill="url(#hatching)"' in text
    assert 'id="hatching"' in text
    assert text.count('class="drawn-suspect"') == 1
    assert "121 readings, 1 suspect" in text  # 144 of a day less 23 inside the gap, by hand


@pytest.mark.parametrize(
    ("query", "follow"),
    [
        ("", "slide"),
        ("?period=7d", "slide"),
        ("?period=season", "grow"),
        ("?period=own&from=2026-06-30", "grow"),
        ("?period=own&from=2026-06-01&until=2026-06-02", ""),
    ],
)
def test_a_period_that_reaches_to_now_is_kept_up_with_and_one_that_is_over_is_not(
    made: Charted, query: str, follow: str
) -> None:
    assert f'data-follow="{follow}" data-now="{NOW_MS}"' in page(made, query).text


def test_a_channel_that_has_not_spoken_says_so(made: Charted) -> None:
    text = plain(page(made, f"?channel={SOUTH}"))
    assert "No good reading in this period." in text
    assert 'class="drawing"' not in text


def test_a_contact_is_shown_in_its_words(made: Charted) -> None:
    text = plain(page(made, f"?channel={DOOR}&period=7d"))
    assert "<td>closed</td>" in text
    assert "<td>open</td>" in text
    assert ">closed</text>" in text


def test_names_with_markup_are_text(made: Charted) -> None:
    assert "North <b>cabinet</b>" not in page(made).text
    assert "North &lt;b&gt;cabinet&lt;/b&gt;" in page(made).text


@pytest.mark.parametrize(
    ("query", "status", "sentence"),
    [
        ("?channel=nobody/t", 404, "There is no channel nobody/t at this site; choose one of the list."),
        ("?channel=<b>x</b>", 404, "There is no channel &lt;b&gt;x&lt;/b&gt; at this site"),
        ("?period=century", 422, "There is no period &#39;century&#39;; choose one of the list."),
        ("?period=own", 422, "Say when the period begins"),
        ("?period=own&from=yesterday", 422, "`from`: &#39;yesterday&#39; is not a date; write 2026-05-03"),
        ("?period=own&from=2026-06-02&until=2026-06-01", 422, "The period ends before it begins"),
        ("?period=own&from=2026-03-29T02:30", 422, "the clocks went forward over it"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(
    made: Charted, query: str, status: int, sentence: str
) -> None:
    answer = page(made, query)
    assert answer.status_code == status
    assert sentence in answer.text
    assert 'role="alert"' in answer.text
    assert 'action="/charts"' in answer.text
    if "from=yesterday" in query:
        assert 'type="text" name="from" value="yesterday" aria-invalid="true"' in answer.text


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("", "Choose at least one channel."),
        ("?channel=nobody/t", "There is no channel nobody/t at this site; choose one of the list."),
        ("?" + "&".join(f"channel=x{n}/t" for n in range(MOST_CHANNELS + 1)), "21 channels are too many"),
        (f"?channel={AIR}&width=0", "`width` has to be a whole number from 1 to 2000."),
        (f"?channel={AIR}&width=many", "`width` has to be a whole number from 1 to 2000."),
        (f"?channel={AIR}&width=2001", "`width` has to be a whole number from 1 to 2000."),
        (f"?channel={AIR}&from=12", "`from` is not between the years 2000 and 2100; a number counts milliseconds."),
        (f"?channel={AIR}&until=soon", "`until`: 'soon' is not a date"),
        (f"?channel={AIR}&from=2026-06-02&until=2026-06-01", "The period ends before it begins"),
        (f"?channel={AIR}&from=2001-01-01&until=2026-06-01", "The period is longer than 20 years"),
        (f"?channel={AIR}&from={NOW_MS}&until={NOW_MS + 999}", "shorter than a second"),
        (f"?channel={AIR}&from=0001-01-01T00:00", "`from`"),
        (f"?channel={AIR}&from=9999-12-31T23:59", "`from`"),
    ],
)
@pytest.mark.parametrize("path", ["/api/series", "/api/series.csv"])
def test_data_that_cannot_be_given_is_refused_in_one_sentence(
    made: Charted, path: str, query: str, sentence: str
) -> None:
    answer = ask(made.app, path + query)
    assert answer.status_code == 422
    assert set(answer.json()) == {"detail"}
    assert sentence in answer.json()["detail"]


def test_the_same_moment_may_be_written_in_three_ways(made: Charted) -> None:
    # 1 June 2026 is in summer time: 12:00 in Berlin is 10:00 UTC, 1,780,308,000 s since the epoch (by `date -d`).
    for text in ("1780308000000", "2026-06-01T10:00:00Z", "2026-06-01T12:00:00%2B02:00", "2026-06-01T12:00"):
        assert ask(made.app, f"/api/series?channel={AIR}&from={text}").json()["from_ms"] == 1_780_308_000_000


def test_the_clock_of_the_site_comes_with_its_changes(made: Charted) -> None:
    # In 2026 Berlin changes on 29 March at 01:00 UTC (EU Directive 2000/84/EC): UTC+1 before, UTC+2 after.
    answer = ask(made.app, f"/api/series?channel={AIR}&from=2026-03-01&until=2026-05-01").json()
    assert answer["utc_offsets"] == [[answer["from_ms"], HOUR_MS], [1_774_746_000_000, 2 * HOUR_MS]]


def test_the_export_has_both_times_and_single_readings_as_they_are(made: Charted) -> None:
    start = NOW_MS - HOUR_MS
    answer = ask(made.app, f"/api/series.csv?channel={AIR}&channel={HUMIDITY}&from={start}&until={NOW_MS}")
    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == 12
    assert (rows[0]["time_utc"], rows[0]["time_local"]) == ("2026-07-01T11:00:00.000Z", "2026-07-01T13:00:00.000+02:00")
    assert rows[0]["seconds"] == "0"
    assert rows[0]["least"] == rows[0]["mean"] == rows[0]["most"]
    [stored] = [row for row in kept(made) if row[0] == start]
    assert float(rows[0]["mean"]) == stored[1]
    assert {(row["channel"], row["unit"]) for row in rows} == {(AIR, "Cel"), (HUMIDITY, "%RH")}


def kept(made: Charted) -> list[tuple[int, float]]:
    with made.journal.read() as conn:
        return conn.execute(
            "SELECT measured_at_ms, value FROM sample JOIN channel USING (channel_id) WHERE channel = ?", (AIR,)
        ).fetchall()


def columns_of(made: Charted) -> dict[str, list[float]]:
    answer = ask(made.app, f"/api/series?channel={AIR}&from={NOW_MS - 40 * DAY_MS}&width=160").json()
    assert answer["series"][0]["width_ms"] == 6 * HOUR_MS
    columns: dict[str, list[float]] = answer["series"][0]["buckets"]
    return columns


def test_the_openapi_document_has_the_answer_and_the_refusal(made: Charted) -> None:
    document = ask(made.app, "/openapi.json").json()
    answers = document["paths"]["/api/series"]["get"]["responses"]
    assert answers["200"]["content"]["application/json"]["schema"]["$ref"].endswith("/SeriesJson")
    assert answers["422"]["content"]["application/json"]["schema"]["$ref"].endswith("/ErrorJson")
    assert "/charts" not in document["paths"]


def test_the_script_comes_packed_is_kept_for_ever_and_is_on_no_other_page(made: Charted) -> None:
    answer = ask(made.app, plotly_address(), headers={"Accept-Encoding": "gzip"})
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert answer.headers["content-encoding"] == "gzip"
    assert int(answer.headers["content-length"]) < len(answer.content) / 3
    whole = ask(made.app, plotly_address(), headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in whole.headers
    assert whole.content == answer.content
    assert "plotly" in page(made).text
    assert "plotly" not in ask(made.app, "/").text


def test_only_the_page_of_charts_may_make_a_picture_of_a_blob(made: Charted) -> None:
    policy = page(made).headers["content-security-policy"]
    other = ask(made.app, "/").headers["content-security-policy"]
    assert policy == f"{other}; img-src 'self' blob:"
    assert "unsafe" not in policy


def test_the_page_without_the_script_is_small(made: Charted) -> None:
    # The promise is 100 kB for a page, as it goes over the wire.
    assert len(gzip.compress(page(made, f"?channel={AIR}&channel={HUMIDITY}&period=30d").content)) < 100_000


def test_a_head_request_and_an_unknown_method(made: Charted) -> None:
    assert ask(made.app, "/charts", method="HEAD").status_code == 200
    assert ask(made.app, "/charts", method="POST").status_code == 405


def test_what_came_in_since_the_last_roll_up_is_there(tmp_path_factory: pytest.TempPathFactory) -> None:
    with charted(tmp_path_factory.mktemp("late"), days=40) as opened:
        key = ChannelKey(AIR, "north-air", "t", Quantity.AIR_TEMPERATURE)
        late = Reading(AIR, NOW_MS - 9 * DAY_MS + 1, NOW_MS, 33.0, Quality.GOOD)
        opened.journal.write(lambda conn: samples.append(conn, samples.channel_ids(conn, [key]), [late]))
        columns = columns_of(opened)
    assert max(columns["most"]) == 33.0
    # 40 days of 144, less 23 in the gap, and the late one; by hand.
    assert sum(columns["good"]) == 40 * DAY_MS // EVERY_MS - 23 + 1
