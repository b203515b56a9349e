"""A photo from a phone made small: turned upright, at most so long and so heavy, and nothing in it but the picture."""

import io
import struct
import threading
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from config.errors import StatedError

if TYPE_CHECKING:
    from PIL import Image

LONGEST_SIDE, THUMBNAIL_SIDE = 1_600, 240
MOST_BYTES = 400_000
MOST_SENT_BYTES = 20_000_000
"""What a phone makes is smaller than this. Project choice."""
MOST_PIXELS_JPEG, MOST_PIXELS_PROGRESSIVE, MOST_PIXELS = 120_000_000, 25_000_000, 12_600_000
"""So that one photo takes no more than some 300 MB of memory. A plain JPEG is read at an eighth of its size. One in
several passes (progressive) is not, and takes ten bytes for each pixel; WebP, and JPEG in the colours of printers, take
twenty. A camera of 12 megapixels makes 4,032 times 3,024. Project choice."""
_FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITIES = (85, 75, 65, 55, 45, 35)
_ONE_AT_A_TIME = threading.Lock()
"""Photos come in many threads, and each takes its memory: it is the machine that must stay up."""
_SEND = "Send a photo as the phone's camera makes it: JPEG, PNG or WebP."


@dataclass(frozen=True, slots=True)
class SmallPhoto:
    """A JPEG with its size in pixels."""

    data: bytes
    width: int
    height: int


def small_photo(sent: bytes) -> SmallPhoto:
    """Read what was sent and write it anew. Raises StatedError where it is too large or no photo."""
    # A format is known once its module is loaded.
    from PIL import Image, JpegImagePlugin, PngImagePlugin, UnidentifiedImageError, WebPImagePlugin

    del JpegImagePlugin, PngImagePlugin, WebPImagePlugin
    if len(sent) > MOST_SENT_BYTES:
        reason = f"the photo has {len(sent) / 1e6:.0f} MB, more than {MOST_SENT_BYTES / 1e6:.0f} MB"
        raise StatedError(reason, "Send it in a smaller size, or take it anew.")
    # The library only warns of some bombs; all of them are refused below, by the size in the header.
    Image.MAX_IMAGE_PIXELS = None
    try:
        with _ONE_AT_A_TIME, Image.open(io.BytesIO(sent), formats=_FORMATS) as image:
            is_jpeg = image.format in ("JPEG", "MPO")
            is_plain_jpeg = is_jpeg and not image.info.get("progressive")
            usual = MOST_PIXELS_PROGRESSIVE if is_jpeg and image.mode in ("L", "RGB") else MOST_PIXELS
            _refuse_bomb(image.width, image.height, MOST_PIXELS_JPEG if is_plain_jpeg else usual)
            if is_plain_jpeg:
                # Reads it at a half, a quarter or an eighth at once.
                image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            turned = _upright(image)
            turned.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            # A new picture: of what stood beside the old one (place, device, remarks) nothing comes along.
            clean = Image.new("RGB", turned.size, "white")
            clean.paste(turned.convert("RGB"))
            return _light(clean)
    except StatedError:
        raise
    except UnidentifiedImageError:
        raise StatedError("this is no photo that can be read", _SEND) from None
    except (OSError, ValueError, TypeError, SyntaxError, EOFError, MemoryError, struct.error, zlib.error):
        raise StatedError("this photo is damaged and cannot be read", "Take it anew.") from None


def thumbnail(kept: bytes) -> bytes:
    """Make a small picture of a photo as it is kept, for pages that show many. Raises StatedError.

    A JPEG is read at an eighth of its size: some milliseconds.
    """
    from PIL import Image, JpegImagePlugin

    del JpegImagePlugin
    try:
        with Image.open(io.BytesIO(kept), formats=("JPEG",)) as image:
            image.draft("RGB", (THUMBNAIL_SIDE, THUMBNAIL_SIDE))
            image.thumbnail((THUMBNAIL_SIDE, THUMBNAIL_SIDE))
            out = io.BytesIO()
            image.convert("RGB").save(out, "JPEG", quality=75)
            return out.getvalue()
    except (OSError, ValueError, TypeError, SyntaxError, EOFError, struct.error):
        raise StatedError("this photo is damaged and cannot be read", "Look at its file.") from None


def _upright(image: "Image.Image") -> "Image.Image":
    """Turn it as the camera was held; where that cannot be read, it stays as it is: somebody can turn their head."""
    from PIL import ImageOps

    image.load()
    try:
        return ImageOps.exif_transpose(image)
    except Exception:  # noqa: BLE001 - out of damaged remarks of a camera anything may come
        return image


def _refuse_bomb(width: int, height: int, most: int) -> None:
    if width * height > most:
        reason = f"the picture has {width} times {height} points, too many for a photo"
        raise StatedError(reason, "Send it in a smaller size, or take it anew.")


def _light(image: "Image.Image") -> SmallPhoto:
    """Write a JPEG that is light enough: first at a lower quality, then smaller."""
    while True:
        for quality in _QUALITIES:
            out = io.BytesIO()
            image.save(out, "JPEG", quality=quality, optimize=True)
            if out.tell() <= MOST_BYTES:
                return SmallPhoto(out.getvalue(), image.width, image.height)
        image = image.resize((max(1, image.width // 2), max(1, image.height // 2)))
