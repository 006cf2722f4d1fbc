"""A photo of the set: boxes of text become lines by their height and slope, lines a text that is read as any other.

The pictures stay on this machine: the models come with the library, and nothing is asked of a network.
"""

from __future__ import annotations

import importlib.util
import io
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from statistics import median
from typing import Any

import numpy as np

from tourstats.problems import Problem

KINDS = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".webp", ".tif", ".tiff", ".bmp")
"""Ends of the names of pictures."""
_LONGEST = 2200
"""Pixels of the longer side from which on a picture is made smaller: a page is read as well, and sooner."""
_SHOWN = 1100
_SURE, _SMALL = 0.7, 9.0
"""Mean certainty of the letters, and their height in pixels, below which a page was not read well."""
_PLAIN = 0.9
"""Mean certainty below which the page may have been held upside down."""
_OVERLAP = 0.5
"""Share of the lower box's height that two boxes of one line have in common."""
_GAP = 2.2
"""Width between two boxes, in heights of the text, from which on it stands for a column."""
_UPRIGHT = 1.4
_NUMBERED = re.compile(r"\W*(\d{1,2})(?:[.):\]\s-]|$)")
_FEWEST, _A_FEW = 4, 2


class PhotoProblem(Problem):
    """A photo cannot be read."""

    @classmethod
    def no_reader(cls) -> PhotoProblem:
        """Say what has to be installed."""
        return cls("To read a photo, install the extra once: pip install 'tourstats[photo]'. Or type the set.")

    @classmethod
    def no_picture(cls, name: str) -> PhotoProblem:
        """Say which file is no picture."""
        return cls(f"{name} cannot be opened as a picture. Give a photo as JPEG, PNG or HEIC.")

    @classmethod
    def unreadable(cls, name: str) -> PhotoProblem:
        """Ask to photograph again."""
        return cls(
            f"{name} could not be read well. Photograph the page again: flat, from straight above, in even light, so "
            "that the page fills the picture. Or type the set."
        )


@dataclass(frozen=True)
class Box:
    """A piece of text that was found: where it is, how high, how sloped, how sure."""

    x: float
    y: float
    width: float
    height: float
    slope: float
    text: str
    sure: float


def is_photo(name: str) -> bool:
    """Whether a file is a picture, by its name.

    Examples
    --------
    >>> is_photo("IMG_2041.HEIC"), is_photo("set.txt")
    (True, False)

    """
    return name.casefold().endswith(KINDS)


def text_of_photos(pages: Sequence[tuple[str, bytes]]) -> str:
    """Text of the pages of a set, one after the other, a line a line.

    Parameters
    ----------
    pages
        Name and bytes of each picture, in order.

    Raises
    ------
    PhotoProblem
        If the reader is not installed, a file is no picture, or a page could not be read well.

    """
    if importlib.util.find_spec("rapidocr") is None:
        raise PhotoProblem.no_reader()
    lines: list[str] = []
    for name, picture in pages:
        boxes = boxes_of(name, picture)
        if not _well(boxes):
            raise PhotoProblem.unreadable(name)
        lines += lines_of(boxes)
    return "\n".join(with_missing(lines))


def as_jpeg(name: str, picture: bytes) -> bytes:
    """The picture as it was held, small enough to be shown beside its lines."""
    image = _opened(name, picture)
    image.thumbnail((_SHOWN, _SHOWN))
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=80)
    return kept.getvalue()


def boxes_of(name: str, picture: bytes) -> list[Box]:
    """Pieces of text in one picture; a page that was held on its side or upside down is turned."""
    image = _opened(name, picture)
    boxes = _found(image)
    words = [box for box in boxes if len(box.text) > _A_FEW]
    on_its_side = bool(words) and median(box.height / max(box.width, 1) for box in words) > _UPRIGHT
    if on_its_side or _certainty(boxes) < _PLAIN * sum(len(box.text) for box in boxes) or not boxes:
        turned = (_found(image.rotate(turn, expand=True)) for turn in ((90, 270) if on_its_side else (180,)))
        boxes = max((boxes, *turned) if not on_its_side else turned, key=_certainty)
    return boxes


def _well(boxes: Sequence[Box]) -> bool:
    """Whether a page was read well enough to be believed."""
    letters = sum(len(box.text) for box in boxes)
    return bool(boxes) and _certainty(boxes) >= _SURE * letters and median(box.height for box in boxes) >= _SMALL


def _certainty(boxes: Sequence[Box]) -> float:
    return sum(box.sure * len(box.text) for box in boxes)


def _opened(name: str, picture: bytes) -> Any:  # noqa: ANN401  # a picture of Pillow
    """The picture as it was held, not larger than it has to be."""
    import pi_heif  # noqa: PLC0415  # an extra
    from PIL import Image, ImageOps  # noqa: PLC0415  # an extra

    pi_heif.register_heif_opener()
    try:
        image = ImageOps.exif_transpose(Image.open(io.BytesIO(picture))).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise PhotoProblem.no_picture(name) from error
    image.thumbnail((_LONGEST, _LONGEST))
    return image


@lru_cache(maxsize=1)
def _reader() -> Any:  # noqa: ANN401  # of rapidocr
    import rapidocr  # noqa: PLC0415  # an extra, and heavy

    return rapidocr.RapidOCR(params={"Global.log_level": "critical"})


def _found(image: Any) -> list[Box]:  # noqa: ANN401  # a picture of Pillow
    read = _reader()(np.asarray(image)[:, :, ::-1], use_cls=False)
    if read.boxes is None:
        return []
    found = zip(read.boxes, read.txts, read.scores, strict=True)
    return [_box(corners, text, sure) for corners, text, sure in found if text.strip()]


def _box(corners: Any, text: str, sure: float) -> Box:  # noqa: ANN401  # four corners, from the top left clockwise
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = ((float(x), float(y)) for x, y in corners)
    width = (math.hypot(bx - ax, by - ay) + math.hypot(cx - dx, cy - dy)) / 2
    height = (math.hypot(dx - ax, dy - ay) + math.hypot(cx - bx, cy - by)) / 2
    slope = math.atan2(by + cy - ay - dy, bx + cx - ax - dx)
    return Box((ax + bx + cx + dx) / 4, (ay + by + cy + dy) / 4, width, height, slope, text, float(sure))


def lines_of(boxes: Sequence[Box]) -> list[str]:
    """Join boxes that stand beside each other, whatever the slope of the page; a wide gap stays a gap.

    Examples
    --------
    >>> one, number = Box(200, 12, 90, 20, 0, "Ferry", 1), Box(20, 10, 20, 20, 0, "1.", 1)
    >>> lines_of([one, number, Box(60, 50, 90, 20, 0, "Wren", 1)])
    ['1.    Ferry', 'Wren']

    """
    if not boxes:
        return []
    slope = median(box.slope for box in sorted(boxes, key=lambda box: -box.width)[: max(len(boxes) // 2, 1)])
    sine, cosine = math.sin(-slope), math.cos(-slope)
    level = [(box, box.x * cosine - box.y * sine, box.x * sine + box.y * cosine) for box in boxes]
    rows: list[list[tuple[Box, float, float]]] = []
    for item in sorted(level, key=lambda item: item[2]):
        beside = next((row for row in reversed(rows) if all(_beside(item, other) for other in row)), None)
        if beside is None:
            rows.append([item])
        else:
            beside.append(item)
    return [_joined(sorted(row, key=lambda item: item[1])) for row in rows]


def _beside(one: tuple[Box, float, float], other: tuple[Box, float, float]) -> bool:
    """Whether two boxes stand on one line: enough of their heights in common, and not one over the other."""
    common = (one[0].height + other[0].height) / 2 - abs(one[2] - other[2])
    apart = abs(one[1] - other[1]) - (one[0].width + other[0].width) / 2
    return common >= _OVERLAP * min(one[0].height, other[0].height) and apart > -min(one[0].width, other[0].width) / 2


def _joined(row: Sequence[tuple[Box, float, float]]) -> str:
    said = row[0][0].text.strip()
    for (before, at, _), (box, then, _) in pairwise(row):
        gap = then - at - (before.width + box.width) / 2
        said += ("    " if gap > _GAP * min(before.height, box.height) else " ") + box.text.strip()
    return said


def with_missing(lines: Iterable[str]) -> list[str]:
    """Put a line to be settled where the numbering says that one is missing.

    Examples
    --------
    >>> with_missing(["1. Ferry", "2. Wren", "4. Salt Road", "5. Copper Wire"])
    ['1. Ferry', '2. Wren', '3. no line 3 could be read ?', '4. Salt Road', '5. Copper Wire']

    """
    lines = list(lines)
    numbers = [int(found[1]) if (found := _NUMBERED.match(line)) else None for line in lines]
    known = [number for number in numbers if number is not None]
    if len(known) < _FEWEST or known != sorted(set(known)) or 2 * len(known) < len(lines):
        return lines
    whole, last = [], min(known[0], 1) - 1
    for line, number in zip(lines, numbers, strict=True):
        if number is not None:
            whole += [f"{gone}. no line {gone} could be read ?" for gone in range(last + 1, number)]
            last = number
        whole.append(line)
    return whole
