"""A photo of the set is read like a text; what is not read well is said."""

import io
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("rapidocr", reason="the extra `photo` is not installed")
drawing = pytest.importorskip("tests.reading.drawing", reason="the extra `photo` is not installed")

from tourstats.cli import main  # noqa: E402  # only where the extra is there
from tourstats.pages.kit.widgets import Said  # noqa: E402  # only where the extra is there
from tourstats.pages.show_day.photo import PhotoOfSet  # noqa: E402  # only where the extra is there
from tourstats.reading.photos import Box, PhotoProblem, lines_of, text_of_photos, with_missing  # noqa: E402  # only where the extra is there
from tourstats.reading.sets import read_set  # noqa: E402  # only where the extra is there
from tourstats.reading.settling import open_lines, settled  # noqa: E402  # only where the extra is there

SONGS = [
    *("Gravel Pylon", "Walrus Parade", "Cobalt Hotel", "Mustard Theory", "Bishop Syndrome", "Tariff Lullaby"),
    *("Ostrich Divorce", "Night Coach 14", "Third Sluice (Slow)", "1893", "Velvet Ladder", "Copper Almanac"),
]
PRINTED = drawing.fonts(drawing.PRINT)
pytestmark = [
    pytest.mark.skipif(not PRINTED, reason="no font to draw a page with"),
    pytest.mark.filterwarnings("ignore"),  # of the libraries that read pictures
]


def read(lines, seed=1, font=0, **drawn):
    picture = drawing.page(lines, PRINTED[font], np.random.default_rng(seed), **drawn)
    return read_set(text_of_photos([("set.jpg", picture)]), SONGS)


@pytest.mark.parametrize(
    ("how", "drawn"),
    [
        ("turned", {"turned": 4.0}),
        ("turned the other way", {"turned": -3.0}),
        ("blurred", {"blurred": 1.2, "quality": 55}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_page_is_read_as_it_was_photographed(how, drawn):
    """
    Turned, shaded, blurred: numbers, remarks, the encore and the order are those of the page.
    """
    lines = [f"{at}. {song}" for at, song in enumerate(SONGS[:8], start=1)]
    lines[1] += " (short intro)"
    found = read([*lines[:6], "ENCORE", *lines[6:]], **drawn)
    ready = settled(found)

    assert (SONGS[:8], 7) == (ready.titles, ready.encore_from), how
    assert "short intro" == ready.remarks[1]


def test_a_photo_of_a_telephone_is_read_as_it_is_kept_there():
    """
    HEIC, lying on its side as the camera held it: the same lines as on the page.
    """
    found = read_set(text_of_photos([("page.heic", (Path(__file__).parent / "photos/page.heic").read_bytes())]), SONGS)

    assert ["Gravel Pylon", "Walrus Parade", "Cobalt Hotel", "1893", "Mustard Theory"] == settled(found).titles
    assert "short intro" == found.remark[1]


def test_capitals_and_two_columns_are_read():
    """
    Two columns by their numbers; capitals are the same titles.
    """
    lines = [f"{at}. {song}".upper() for at, song in enumerate(SONGS[:8], start=1)]

    assert SONGS[:8] == settled(read(lines, columns=2, size=36)).titles


def test_two_photos_are_two_pages():
    """
    The second goes on where the first ends.
    """
    rng = np.random.default_rng(3)
    pages = [("1.jpg", drawing.page(SONGS[:4], PRINTED[0], rng)), ("2.jpg", drawing.page(SONGS[4:7], PRINTED[0], rng))]

    assert SONGS[:7] == settled(read_set(text_of_photos(pages), SONGS)).titles


def test_a_line_that_is_missing_is_named_and_asked_about():
    """
    The numbering says so: "no line 3 could be read".
    """
    text = "\n".join(with_missing(["1. Gravel Pylon", "2. Walrus Parade", "4. Cobalt Hotel", "5. 1893"]))

    assert ["3. no line 3 could be read ?"] == open_lines(read_set(text, SONGS)).as_typed.tolist()
    assert 1 == len(open_lines(read_set(text, []), range(9))) or 3 in open_lines(read_set(text, [])).position.tolist()


def test_a_page_that_cannot_be_read_says_so():
    """
    Nothing on it, or no picture at all: one sentence with what to do.
    """
    blank = drawing.page([], PRINTED[0], np.random.default_rng(4))
    with pytest.raises(PhotoProblem, match="Photograph the page again"):
        text_of_photos([("set.jpg", blank)])
    with pytest.raises(PhotoProblem, match=r"set\.png cannot be opened as a picture"):
        text_of_photos([("set.png", b"no picture")])


def test_other_kinds_of_picture_are_opened():
    """
    PNG, and a page that was held on its side or upside down.
    """
    image = drawing.Image.open(io.BytesIO(drawing.page(SONGS[:5], PRINTED[0], np.random.default_rng(5))))
    for kind, turned in (("PNG", image), ("JPEG", image.rotate(90, expand=True)), ("JPEG", image.rotate(180))):
        kept = io.BytesIO()
        turned.save(kept, kind)

        assert SONGS[:5] == settled(read_set(text_of_photos([("set", kept.getvalue())]), SONGS)).titles


def test_boxes_of_a_sloped_page_become_its_lines():
    """
    What stands on one line of the page does so whatever its slope.
    """
    slope = 0.07
    boxes = [
        Box(100 + 400 * column, 100 + 60 * row + 400 * column * slope, 300, 36, slope, f"{row}{column}", 1.0)
        for row in range(4)
        for column in range(2)
    ]

    assert [f"{row}0    {row}1" for row in range(4)] == lines_of(boxes)


def test_the_command_takes_photos(tmp_path, capsys):
    """
    What was read is planned, and only the text is kept.
    """
    path, picture = tmp_path / "tour.sqlite", tmp_path / "page.jpg"
    picture.write_bytes(drawing.page([*SONGS[:3], "Cobalt Hotel ?"], PRINTED[0], np.random.default_rng(6)))
    asked = ["--diary", str(path), "tonight", str(picture), "--city", "Ostby", "--sheets", str(tmp_path)]
    assert 1 == main(asked)
    assert 0 == main([*asked, "--song", "4=skip"])

    assert "Gravel Pylon" in capsys.readouterr().out
    assert picture.read_bytes() not in path.read_bytes()


def test_the_page_shows_the_photo_beside_its_lines():
    """
    The text goes into the field, the picture stands beside it until the set is saved; what fails is a sentence.
    """
    typed, said = drawing_field(), Said()
    form = PhotoOfSet(typed, said)
    picture = drawing.page(SONGS[:4], PRINTED[0], np.random.default_rng(7))
    form.choose.value = (chosen("set.jpg", picture),)
    assert (SONGS[:4], 1) == (settled(read_set(typed.value, SONGS)).titles, len(form.shown.children))
    form.forget()
    assert () == form.shown.children
    form.choose.value = (chosen("set.jpg", b"no picture"),)
    assert "cannot be opened as a picture" in said.value


def drawing_field():
    import ipywidgets as w  # noqa: PLC0415  # the page's, only here

    return w.Textarea()


def chosen(name, content):
    """A file as the browser hands it over."""
    return {
        "name": name,
        "type": "",
        "size": len(content),
        "content": memoryview(content),
        "last_modified": datetime.now(UTC),
    }
