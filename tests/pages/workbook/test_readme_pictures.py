"""README's pictures are what the script draws from today's demo tour."""

import re
import struct
import subprocess
import sys
import zlib
from xml.etree import ElementTree as ET

import pytest

from tourstats.pages.workbook import readme_pictures as pictures

NAMES = [pictures.SHEET, pictures.OUT, pictures.TOUR, pictures.DAY]


@pytest.fixture(scope="module")
def tables():
    """A demo tour that nobody has touched."""
    return pictures.demo_tables()


@pytest.fixture(scope="module")
def now(tables):
    """Every picture, drawn now."""
    return pictures.pictures(tables)


@pytest.mark.parametrize("name", NAMES)
def test_no_picture_is_stale(now, name):
    """
    What each one was drawn from is what it would be drawn from today.
    """
    assert now[name].digest == pictures.drawn_from(pictures.FOLDER / name), (
        "draw them again: python -m tourstats.pages.workbook.readme_pictures data/pictures"
    )


def test_there_is_no_other_picture():
    """
    Nothing is in the folder that nobody draws.
    """
    assert sorted(NAMES) == sorted(path.name for path in pictures.FOLDER.iterdir())


@pytest.mark.parametrize("name", NAMES)
def test_pictures_are_small_and_carry_what_they_were_drawn_from(now, name, tmp_path):
    """
    Below 150 kB each, and the mark can be read back from what is drawn now.
    """
    (tmp_path / name).write_bytes(now[name].data)

    assert len(now[name].data) < 250_000
    assert now[name].digest == pictures.drawn_from(tmp_path / name)


def test_the_sheet_is_a_whole_png(now):
    """
    Every chunk has its right check sum, and the picture has the shape of A4.
    """
    data, at, kinds = now[pictures.SHEET].data, 8, []
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        body = data[at + 4 : at + 8 + size]
        assert zlib.crc32(body) == struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0]
        kinds.append(body[:4])
        at += 12 + size
    width, height = struct.unpack(">II", data[16:24])

    assert (b"\x89PNG\r\n\x1a\n", b"IHDR", b"IEND") == (data[:8], kinds[0], kinds[-1])
    assert abs(height / width - 297 / 210) < 0.01


@pytest.mark.parametrize("name", [pictures.OUT, pictures.TOUR])
def test_charts_are_whole_and_described(now, name):
    """
    Well-formed, with words for a screen reader, and nothing that is fetched.
    """
    root = ET.fromstring(now[name].data)  # noqa: S314  # our own picture

    assert len(root.get("aria-label")) > 40
    assert not re.search(rb'(?:href|src)="https?:', now[name].data)


def test_a_changed_title_makes_a_picture_stale(now, tables):
    """
    The digest follows what is shown: another title in the demo is seen in each picture that has it.
    """
    new = {"Nettle Soup": "Bramble Soup", "Hollyhock Lane": "Foxglove Lane"}
    names = ("songs", "plays", "planned", "rehearsals", "reviews", "mistakes")
    renamed = {name: getattr(tables, name).replace({"song": new}) for name in names}
    other = pictures.pictures(tables.replaced(**renamed))

    assert [True, True, True, True] == [other[name].digest != now[name].digest for name in NAMES]


@pytest.mark.full
def test_two_programs_draw_the_same_bytes(tmp_path):
    """
    Run twice, each in a program of its own, the files are equal.
    """
    for folder in ("one", "two"):
        subprocess.run(
            [sys.executable, "-m", "tourstats.pages.workbook.readme_pictures", str(tmp_path / folder)], check=True
        )

    one, two = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two"))
    assert one == two


def test_drawing_twice_gives_the_same_digests(now, tables):
    """
    Also in one program, where counters go on.
    """
    assert {name: each.digest for name, each in now.items()} == {
        name: each.digest for name, each in pictures.pictures(tables).items()
    }
