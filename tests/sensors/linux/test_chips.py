"""Chips under hwmon and IIO, by the kernel's documentation of their files."""

import errno
import os
from pathlib import Path

import pytest

from sensors.linux.addresses import Hwmon, Iio
from sensors.linux.files import fault_of
from sensors.linux.reading import find, read
from sensors.linux.values import Fault, FaultKind, Value
from tests.support.sysfs import Sysfs

T, RH = Hwmon("sht3x", "1-0044", "temp1"), Hwmon("sht3x", "1-0044", "humidity1")
IIO_T, IIO_RH = Iio("hdc100x", "1-0040", "temp"), Iio("hdc100x", "1-0040", "humidityrelative")


@pytest.fixture
def sysfs(tmp_path: Path) -> Sysfs:
    return Sysfs(tmp_path / "sys")


def kind_of(answer: object) -> FaultKind:
    assert isinstance(answer, Fault)
    assert answer.sentence
    return answer.kind


def test_hwmon_is_read_in_thousandths(sysfs: Sysfs) -> None:
    # Kernel documentation, hwmon sysfs interface: millidegree Celsius and milli-percent. 31250 and 84600 are its scale.
    sysfs.hwmon(2, "sht3x", {"temp1_input": "31250\n", "humidity1_input": "84600\n"}, "1-0044")
    assert read(T, sysfs.root) == Value(31.25, "Cel")
    assert read(RH, sysfs.root) == Value(84.6, "%RH")


def test_a_flagged_a_switched_off_an_empty_and_a_missing_input_say_so(sysfs: Sysfs) -> None:
    folder = sysfs.hwmon(0, "sht3x", {"temp1_input": "31250\n", "temp1_fault": "1\n"}, "1-0044")
    assert kind_of(read(T, sysfs.root)) is FaultKind.FLAGGED
    (folder / "temp1_fault").write_text("0\n")
    assert read(T, sysfs.root) == Value(31.25, "Cel")
    (folder / "temp1_enable").write_text("0\n")
    assert kind_of(read(T, sysfs.root)) is FaultKind.SWITCHED_OFF
    (folder / "temp1_enable").write_text("1\n")
    (folder / "temp1_input").write_text("")
    assert kind_of(read(T, sysfs.root)) is FaultKind.EMPTY
    (folder / "temp1_input").write_text("warm\n")
    assert kind_of(read(T, sysfs.root)) is FaultKind.UNREADABLE
    assert kind_of(read(RH, sysfs.root)) is FaultKind.GONE


@pytest.mark.parametrize(
    ("number", "kind"),
    [
        (errno.ENODATA, FaultKind.SWITCHED_OFF),
        (errno.ENOENT, FaultKind.GONE),
        (errno.ENODEV, FaultKind.GONE),
        (errno.ENXIO, FaultKind.GONE),
        (errno.EREMOTEIO, FaultKind.GONE),
        (errno.ETIMEDOUT, FaultKind.UNREADABLE),
        (errno.EACCES, FaultKind.UNREADABLE),
        (errno.EIO, FaultKind.UNREADABLE),
        (errno.EAGAIN, FaultKind.UNREADABLE),
    ],
)
def test_what_the_system_says_against_a_read_becomes_a_sentence(number: int, kind: FaultKind) -> None:
    assert kind_of(fault_of(OSError(number, os.strerror(number)))) is kind


def test_a_chip_is_found_again_under_another_number_and_told_from_its_like(sysfs: Sysfs) -> None:
    sysfs.hwmon(0, "sht3x", {"temp1_input": "20000\n"}, "1-0045")
    sysfs.hwmon(3, "sht3x", {"temp1_input": "31250\n"}, "1-0044")
    assert read(T, sysfs.root) == Value(31.25, "Cel")
    assert read(T._replace(at="1-0045"), sysfs.root) == Value(20.0, "Cel")
    assert "2 chips are called sht3x" in str(read(T._replace(at=""), sysfs.root))
    missing = read(T._replace(at="1-0046"), sysfs.root)
    assert kind_of(missing) is FaultKind.GONE
    assert "there is one at 1-0045" in str(missing)


def test_iio_adds_the_offset_before_it_scales(sysfs: Sysfs) -> None:
    # Kernel documentation of the IIO ABI: value = (raw + offset) * scale. By hand: (6720 - 1000) * 5.5 = 31460 milli C.
    folder = sysfs.iio(
        0, "hdc100x", {"in_temp_raw": "6720\n", "in_temp_offset": "-1000\n", "in_temp_scale": "5.5\n"}, "1-0040"
    )
    assert read(IIO_T, sysfs.root) == Value(31.46, "Cel")
    (folder / "in_temp_offset").unlink()
    # Without an offset: 6720 * 5.5 = 36960.
    assert read(IIO_T, sysfs.root) == Value(36.96, "Cel")
    (folder / "in_temp_scale").write_text("a lot\n")
    assert kind_of(read(IIO_T, sysfs.root)) is FaultKind.UNREADABLE
    (folder / "in_temp_scale").unlink()
    assert kind_of(read(IIO_T, sysfs.root)) is FaultKind.GONE


def test_iio_takes_the_processed_value_where_there_is_one(sysfs: Sysfs) -> None:
    sysfs.iio(0, "dht11", {"in_humidityrelative_input": "84600\n", "in_temp_input": "28400\n"}, "1-0040")
    assert read(IIO_RH._replace(chip="dht11"), sysfs.root) == Value(84.6, "%RH")
    assert read(IIO_T._replace(chip="dht11"), sysfs.root) == Value(28.4, "Cel")


def test_an_offset_that_is_there_and_cannot_be_read_is_a_fault_and_not_zero(sysfs: Sysfs) -> None:
    folder = sysfs.iio(0, "hdc100x", {"in_temp_raw": "6720\n", "in_temp_scale": "5.5\n"}, "1-0040")
    (folder / "in_temp_offset").symlink_to("/proc/self/mem")
    assert kind_of(read(IIO_T, sysfs.root)) is FaultKind.UNREADABLE


def test_chips_are_found_once_with_place_and_label(sysfs: Sysfs) -> None:
    sysfs.hwmon(0, "cpu_thermal", {"temp1_input": "51000\n"})
    sysfs.hwmon(1, "sht3x", {"temp1_input": "31250\n", "humidity1_input": "84600\n", "temp1_label": "lid\n"}, "1-0044")
    sysfs.hwmon(2, "w1_slave_temp", {"temp1_input": "25062\n"})
    sysfs.hwmon(3, "iio_hwmon", {"temp1_input": "28400\n"})
    sysfs.iio(
        0, "hdc100x", {"in_temp_raw": "1\n", "in_temp_scale": "1\n", "in_humidityrelative_input": "1\n"}, "1-0040"
    )
    found = list(find(sysfs.root))
    assert [(str(each.address), each.label) for each in found] == [
        ("temp1 of cpu_thermal (hwmon)", ""),
        ("humidity1 of sht3x at 1-0044 (hwmon)", ""),
        ("temp1 of sht3x at 1-0044 (hwmon)", "lid"),
        ("humidityrelative of hdc100x at 1-0040 (IIO)", ""),
        ("temp of hdc100x at 1-0040 (IIO)", ""),
    ]
    for each in found:
        assert read(each.address, sysfs.root) == each.now
