"""Photos: made small, freed of what stands beside the picture, stored once; what is no photo is refused."""

import hashlib
import io
import os
import struct
import threading
from itertools import product
from pathlib import Path

import pytest
from PIL import Image

from config.errors import StatedError
from daemon.photo_image import LONGEST_SIDE, MOST_BYTES, small_photo
from daemon.rounds.values import Already, Photo, Refused
from daemon.storage import photos
from tests.rounds.bench import N1, S1, START_MS, Bench, entry, uuid

_ORIENTATION, _MAKER, _REMARK, _PLACE = 0x0112, 0x010F, 0x9286, 0x8825


def picture(width: int = 2_400, height: int = 1_200, form: str = "JPEG", **how: object) -> bytes:
    """Left half red, right half blue."""
    image = Image.new("RGB", (width, height), "red")
    image.paste("blue", (width // 2, 0, width, height))
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def noise(width: int, height: int) -> bytes:
    """What no format makes small."""
    out = io.BytesIO()
    Image.frombytes("RGB", (width, height), os.urandom(width * height * 3)).save(out, "JPEG", quality=95)
    return out.getvalue()


def add(bench: Bench, data: bytes, photo_number: int = 1, box: str = N1) -> Photo | Already | Refused:
    [running] = bench.desk.running()
    return bench.desk.add_photo(running.number, box, uuid(photo_number), data, "ana", uuid(7))


def kept(bench: Bench, data: bytes) -> tuple[Photo, Image.Image]:
    photo = add(bench, data)
    assert isinstance(photo, Photo), photo
    found = bench.desk.photo(photo.photo_id)
    assert found is not None
    assert found[0] == photo
    stored = found[1].read_bytes()
    assert (len(stored), hashlib.sha256(stored).hexdigest()) == (photo.byte_count, photo.sha256)
    assert len(stored) <= MOST_BYTES
    return photo, Image.open(io.BytesIO(stored))


@pytest.fixture
def running(bench: Bench) -> Bench:
    bench.clutch()
    bench.start()
    return bench


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "MPO"])
def test_a_photo_is_made_small_and_kept_beside_the_journal(running: Bench, form: str) -> None:
    photo, image = kept(running, picture(form=form))
    assert (image.size, image.format, image.mode) == ((LONGEST_SIDE, LONGEST_SIDE // 2), "JPEG", "RGB")
    assert (photo.width, photo.height, photo.box, photo.clutch_id, photo.who) == (1600, 800, N1, 1, "ana")
    # 1 780 000 000 s lies in 2026.
    assert photo.file == f"2026/{uuid(1)}.jpg"
    assert (running.journal.path.parent / "photos" / photo.file).is_file()
    view = running.desk.sheet(N1)
    assert view is not None
    assert [each.photo_id for each in view.photos] == [uuid(1)]


def test_a_small_photo_is_not_made_larger(running: Bench) -> None:
    assert kept(running, picture(300, 200))[1].size == (300, 200)


def test_where_and_by_what_it_was_taken_is_gone_and_it_stands_upright(running: Bench) -> None:
    """EXIF 2.32, tag 0x0112: 6 is to be turned by 90 degrees clockwise, so what is left comes to the top."""
    exif = Image.Exif()
    exif[_ORIENTATION], exif[_MAKER], exif[_REMARK] = 6, "SECRETPHONE", "SECRETPLACE"
    sent = picture(400, 200, exif=exif, comment=b"SECRETWORD")
    assert sent.count(b"SECRET") == 3
    photo, image = kept(running, sent)
    assert (photo.width, photo.height) == (200, 400)
    found = running.desk.photo(photo.photo_id)
    assert found is not None
    assert b"SECRET" not in found[1].read_bytes()
    assert not dict(image.getexif())
    red, _, blue = image.getpixel((100, 50))  # type: ignore[misc]
    assert (red > 200, blue < 60) == (True, True)


def test_what_no_quality_makes_light_is_made_smaller(running: Bench) -> None:
    photo, image = kept(running, noise(1_600, 1_600))
    assert photo.byte_count <= MOST_BYTES
    assert max(image.size) < LONGEST_SIDE


BAD = {
    "forty megabytes": (b"\xff\xd8\xff" + bytes(40_000_000), "40 MB"),
    "text": (b"not a photo at all", "no photo"),
    "nothing": (b"", "no photo"),
    "a drawing that moves": (picture(40, 20, "GIF"), "no photo"),
    "half a photo": (picture(2_000, 1_000)[:2_000], "damaged"),
    "half a drawing": (picture(500, 500, "PNG")[:300], "damaged"),
    "a page with a script": (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "no photo"),
    "a bomb": (picture(8_000, 8_000, "PNG"), "too many for a photo"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_photo_is_refused_and_the_entry_is_kept(running: Bench, name: str) -> None:
    [one] = running.desk.running()
    running.enter(one.number, entry(7))
    data, why = BAD[name]
    refused = add(running, data)
    assert isinstance(refused, Refused)
    assert why in refused.reason
    assert "What was entered for the box is kept." in refused.hint
    assert running.rows("SELECT count(*) FROM photo") == [(0,)]
    assert running.rows("SELECT count(*) FROM box_finding") == [(1,)]
    assert not list(running.journal.path.parent.glob("photos/**/*.jpg"))


def test_a_bomb_of_a_jpeg_is_refused_by_its_header(running: Bench) -> None:
    """A header that says 60 000 times 60 000: the picture behind it is never read. The size stands in SOF0."""
    sent = bytearray(picture(64, 64))
    at = sent.index(b"\xff\xc0") + 5
    sent[at : at + 4] = (60_000).to_bytes(2, "big") * 2
    refused = add(running, bytes(sent))
    assert isinstance(refused, Refused)
    assert "60000 times 60000" in refused.reason


def test_a_photo_that_is_sent_twice_is_stored_once(running: Bench) -> None:
    assert isinstance(add(running, picture(300, 200)), Photo)
    assert add(running, picture(300, 200)) == Already(uuid(1))
    assert running.rows("SELECT count(*) FROM photo") == [(1,)]


def test_a_photo_of_no_box_of_the_round_is_refused(running: Bench) -> None:
    refused = add(running, picture(30, 20), box=S1)
    assert isinstance(refused, Refused)
    assert refused.field == "box"
    other = running.desk.add_photo(99, N1, uuid(1), picture(30, 20), "ana")
    assert isinstance(other, Refused)
    assert other.field == "round"
    nameless = running.desk.add_photo(1, N1, "../../x", picture(30, 20), "ana")
    assert isinstance(nameless, Refused)
    assert nameless.field == "photo"


def test_a_disk_that_takes_nothing_is_told_in_words(running: Bench) -> None:
    """The folder of the photos is a file here, so that none can be written."""
    (running.journal.path.parent / "photos").write_text("in the way")
    refused = add(running, picture(30, 20))
    assert isinstance(refused, Refused)
    assert refused.reason.startswith("the photo could not be stored")
    assert running.rows("SELECT count(*) FROM photo") == [(0,)]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_leaves_nothing_half_written(tmp_path: Path) -> None:
    folder = tmp_path / "2026"
    folder.mkdir()
    (folder / f"{uuid(1)}.{os.getpid()}-{threading.get_ident()}.part").symlink_to("/dev/full")
    with pytest.raises(OSError, match="No space left"):
        photos.write_file(tmp_path, photos.file_of(uuid(1), START_MS), picture(30, 20))
    assert list(folder.iterdir()) == []


@pytest.mark.filterwarnings("ignore::UserWarning")
def test_damaged_remarks_of_the_camera_cost_nothing_but_the_turning() -> None:
    """TIFF 6.0: an entry has 12 bytes: what it is of, its type, how many, and the value or where that stands.

    The second one is where the place (GPS) stands; every type and some numbers are written into it.
    """
    exif = Image.Exif()
    exif[_ORIENTATION], exif[_PLACE] = 6, {1: "N", 2: (1.0, 2.0, 3.0)}
    sent = picture(80, 40, exif=exif)
    begin = sent.index(b"Exif\x00\x00") + 6
    high_first, at = sent[begin : begin + 2] == b"MM", begin + 8 + 2 + 12
    for kind, count in product(range(14), (0, 1, 3, 0xFFFF)):
        form = f"{'>' if high_first else '<'}2sHI4s"
        damaged = bytearray(sent)
        damaged[at : at + 12] = struct.pack(form, sent[at : at + 2], kind, count, sent[at + 8 : at + 12])
        made = small_photo(bytes(damaged))
        assert {made.width, made.height} == {80, 40}


def test_a_picture_in_several_passes_is_refused_where_it_would_fill_the_memory() -> None:
    """A JPEG of one pass may have 120 million points; this one has 36 million, in several."""
    with pytest.raises(StatedError, match="too many for a photo"):
        small_photo(picture(6_000, 6_000, progressive=True))
    assert small_photo(picture(6_000, 6_000)).width == LONGEST_SIDE


def test_one_photo_that_is_sent_twice_at_the_same_moment_is_kept(tmp_path: Path) -> None:
    """Two threads begin to write before either of them has ended, round after round."""
    data, failed = noise(600, 600), []
    both = threading.Barrier(4)

    def write() -> None:
        for number in range(30):
            both.wait()
            try:
                photos.write_file(tmp_path, f"2026/{uuid(number)}.jpg", data)
            except OSError as error:
                failed.append(error)

    threads = [threading.Thread(target=write) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert failed == []
    assert sorted(each.suffix for each in (tmp_path / "2026").iterdir()) == [".jpg"] * 30
