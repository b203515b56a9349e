"""The mirror's client library reaches the real storage engine through the test gateway."""

import json

import pytest
from influxdb_client import InfluxDBClient, Point, WritePrecision
from influxdb_client.client.write_api import SYNCHRONOUS

from tests.support.influxdb import InfluxDb

pytestmark = pytest.mark.services


def test_a_point_written_by_the_client_library_is_read_back_with_influxql(influxdb: InfluxDb) -> None:
    influxdb.query('CREATE DATABASE "season"')
    with InfluxDBClient(influxdb.url, token="any", org="any", enable_gzip=True) as client:
        point = Point("air_temperature").tag("probe", "north-air").field("value", 28.25)
        client.write_api(write_options=SYNCHRONOUS).write(
            "season", record=point.time(1_780_000_000_000, WritePrecision.MS), write_precision=WritePrecision.MS
        )
    answer = json.loads(influxdb.query('SELECT "value" FROM "air_temperature"', "season"))
    [series] = answer["results"][0]["series"]
    assert series["values"] == [["2026-05-28T20:26:40Z", 28.25]]
