"""1-wire thermometers: what the kernel's files say, and every documented way in which they say nothing."""

import os
from pathlib import Path

import pytest

from sensors.linux.addresses import OneWire
from sensors.linux.one_wire_text import crc8, parse_temperature, parse_w1_slave
from sensors.linux.reading import LONGEST_READ_MS, find, read, read_in_time
from sensors.linux.values import Fault, FaultKind, Value
from tests.support.sysfs import FRAME_25_C, Sysfs, w1_slave

DEVICE = "28-0316a2795bff"
ADDRESS = OneWire(DEVICE)
POWER_ON = "50 05 4b 46 7f ff 0c 10 1c"
"""The register after power-up, DS18B20 data sheet, figure on the memory map."""
LOW_POWER = "ff 07 4b 46 7f ff 0c 10 a6"


@pytest.fixture
def sysfs(tmp_path: Path) -> Sysfs:
    return Sysfs(tmp_path / "sys")


# Frames and their checksums: data sheet layout; polynomial x^8 + x^5 + x^4 + 1, and the check value of its catalogues.
@pytest.mark.parametrize(
    ("data", "crc"),
    [
        (bytes.fromhex("50054b467fff0c10"), 0x1C),
        (bytes.fromhex("91014b467fff0c10"), 0x70),
        (bytes.fromhex("ff074b467fff0c10"), 0xA6),
        (b"123456789", 0xA1),
        (bytes(8), 0),
    ],
)
def test_the_checksum_is_that_of_1_wire_devices(data: bytes, crc: int) -> None:
    assert crc8(data) == crc


@pytest.mark.parametrize(
    ("milli_c", "celsius"), [(25_062, 25.062), (-10_125, -10.125), (31_500, 31.5), (125_000, 125.0), (-55_000, -55.0)]
)
def test_a_sound_thermometer_is_read_in_degree_celsius(milli_c: int, celsius: float) -> None:
    assert parse_w1_slave(w1_slave(FRAME_25_C, milli_c)) == Value(celsius, "Cel")
    assert parse_temperature(f"{milli_c}\n") == Value(celsius, "Cel")


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("", FaultKind.EMPTY, "checksum is wrong"),
        ("\n", FaultKind.EMPTY, "checksum is wrong"),
        (w1_slave(FRAME_25_C, 25_062, answer="NO"), FaultKind.CHECKSUM, "bad contact"),
        # YES over bytes whose checksum is another one: an older driver, or a file that was changed meanwhile.
        (w1_slave("92 01 4b 46 7f ff 0c 10 70", 25_125), FaultKind.CHECKSUM, "bad contact"),
        (w1_slave("ff ff ff ff ff ff ff ff ff", -62), FaultKind.CHECKSUM, "bad contact"),
        (w1_slave(POWER_ON, 85_000), FaultKind.POWER_ON, "it has not measured"),
        (w1_slave(LOW_POWER, 127_937), FaultKind.LOW_POWER, "supply pin"),
        (w1_slave("00 00 00 00 00 00 00 00 00", 0), FaultKind.STUCK_LOW, "short circuit"),
        (w1_slave(FRAME_25_C, -127_000), FaultKind.OUT_OF_RANGE, "-127 °C lies outside"),
        (w1_slave(FRAME_25_C, 125_063), FaultKind.OUT_OF_RANGE, "125.063 °C lies outside"),
        (w1_slave(FRAME_25_C, 25_062).replace(" t=25062", ""), FaultKind.UNREADABLE, "no t="),
        (w1_slave(FRAME_25_C, 25_062).splitlines()[0], FaultKind.UNREADABLE, "no t="),
        (w1_slave(FRAME_25_C, 25_062)[:20], FaultKind.UNREADABLE, "not laid out"),
        ("no such thing", FaultKind.UNREADABLE, "not laid out"),
    ],
)
def test_each_fault_of_w1_slave_is_told_and_is_no_number(text: str, kind: FaultKind, said: str) -> None:
    answer = parse_w1_slave(text)
    assert isinstance(answer, Fault)
    assert answer.kind is kind
    assert said in answer.sentence


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("", FaultKind.EMPTY),
        ("85000\n", FaultKind.POWER_ON),
        ("127937\n", FaultKind.LOW_POWER),
        ("127940\n", FaultKind.LOW_POWER),
        ("0\n", FaultKind.STUCK_LOW),
        ("-127000\n", FaultKind.OUT_OF_RANGE),
        ("25.062\n", FaultKind.UNREADABLE),
        ("25062 25062\n", FaultKind.UNREADABLE),
    ],
)
def test_each_fault_of_the_file_temperature_is_told_and_is_no_number(text: str, kind: FaultKind) -> None:
    answer = parse_temperature(text)
    assert isinstance(answer, Fault)
    assert answer.kind is kind


def test_zero_degrees_with_a_frame_that_is_not_zero_is_a_value() -> None:
    # 0 °C: bytes 0 and 1 zero, the others as in the data sheet; its checksum by the function that is tested above.
    frame = bytes.fromhex("00004b467fff0c10")
    assert parse_w1_slave(w1_slave((frame + bytes([crc8(frame)])).hex(" "), 0)) == Value(0.0, "Cel")


def test_a_thermometer_is_read_from_w1_slave_with_its_checksum_where_there_is_both(sysfs: Sysfs) -> None:
    folder = sysfs.one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 25_062), "temperature": "31000\n"})
    assert read(ADDRESS, sysfs.root) == Value(25.062, "Cel")
    (folder / "w1_slave").unlink()
    assert read(ADDRESS, sysfs.root) == Value(31.0, "Cel")


def test_one_that_is_unplugged_is_gone_and_one_that_cannot_be_read_says_why(sysfs: Sysfs) -> None:
    answer = read(ADDRESS, sysfs.root)
    assert isinstance(answer, Fault)
    assert answer.kind is FaultKind.GONE
    folder = sysfs.one_wire(DEVICE, {})
    # The kernel's own answer to reading nothing: an input/output error.
    (folder / "w1_slave").symlink_to("/proc/self/mem")
    answer = read(ADDRESS, sysfs.root)
    assert answer == Fault(FaultKind.UNREADABLE, "it cannot be read (input/output error)")


def test_what_another_program_had_measured_earlier_is_not_taken_for_now(sysfs: Sysfs) -> None:
    folder = sysfs.one_wire(DEVICE, {"temperature": "25062\n"})
    bulk = folder.parent / "therm_bulk_read"
    bulk.write_text("-1\n")
    answer = read(ADDRESS, sysfs.root)
    assert isinstance(answer, Fault)
    assert answer.kind is FaultKind.STALE
    # A result waits: the first read takes it away, the second measures. A pipe shows what each read gets.
    bulk.write_text("1\n")
    (folder / "temperature").unlink()
    os.mkfifo(folder / "temperature")
    pipe = os.open(folder / "temperature", os.O_RDWR | os.O_NONBLOCK)
    try:
        os.write(pipe, b"20000\n".ljust(4096) + b"30000\n")
        assert read(ADDRESS, sysfs.root) == Value(30.0, "Cel")
    finally:
        os.close(pipe)


def test_a_value_that_was_too_long_in_coming_is_stale(sysfs: Sysfs) -> None:
    sysfs.one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 25_062)})
    times = iter([0, LONGEST_READ_MS, 0, LONGEST_READ_MS + 1])
    assert read_in_time(ADDRESS, sysfs.root, lambda: next(times)) == Value(25.062, "Cel")
    answer = read_in_time(ADDRESS, sysfs.root, lambda: next(times))
    assert isinstance(answer, Fault)
    assert answer.kind is FaultKind.STALE


def test_thermometers_are_found_and_other_devices_of_the_bus_are_not(sysfs: Sysfs) -> None:
    sysfs.one_wire(DEVICE, {"w1_slave": w1_slave(FRAME_25_C, 25_062)})
    sysfs.one_wire("10-000802b5f3a1", {"w1_slave": ""})
    sysfs.one_wire("01-00000a1b2c3d", {})
    found = list(find(sysfs.root))
    assert [each.address for each in found] == [OneWire("10-000802b5f3a1"), ADDRESS]
    assert isinstance(found[0].now, Fault)
    assert found[1].now == Value(25.062, "Cel")


def test_a_board_without_any_bus_has_nothing_attached(tmp_path: Path) -> None:
    assert list(find(tmp_path)) == []
