"""What one photo may cost the machine. Small files that unfold to large pictures are refused before they do."""

import io
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

MOST_MB = 300
"""Project choice: a small machine has 1 GB, and the watch needs some of it."""
PROGRAM = """
import resource, sys
from pathlib import Path
from PIL import Image, JpegImagePlugin, PngImagePlugin, WebPImagePlugin
from config.errors import StatedError
from daemon.photo_image import small_photo
data = Path(sys.argv[1]).read_bytes()
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    small_photo(data)
except StatedError:
    pass
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""
CAMERA = 4_032, 3_024


def sent(mode: str, size: tuple[int, int], kind: str, **more: object) -> bytes:
    out = io.BytesIO()
    Image.new(mode, size).save(out, kind, **more)
    return out.getvalue()


@pytest.mark.parametrize("size", [CAMERA, (4_990, 5_000)], ids=["camera", "bomb"])
@pytest.mark.parametrize(
    ("mode", "kind", "more"),
    [
        ("RGBA", "WEBP", {"lossless": True}),
        ("RGBA", "PNG", {}),
        ("CMYK", "JPEG", {"progressive": True}),
        ("RGB", "JPEG", {"progressive": True}),
    ],
    ids=["webp", "png", "printers-colours", "progressive"],
)
def test_a_photo_takes_no_more_memory_than_a_small_machine_has(
    tmp_path: Path, mode: str, kind: str, more: dict[str, object], size: tuple[int, int]
) -> None:
    file = tmp_path / "photo"
    file.write_bytes(sent(mode, size, kind, **more))
    assert file.stat().st_size < 2_000_000
    took = subprocess.run([sys.executable, "-c", PROGRAM, str(file)], capture_output=True, text=True, check=True)
    assert int(took.stdout) < MOST_MB
