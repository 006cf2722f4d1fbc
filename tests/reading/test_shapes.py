"""The shape of a song, in the many ways people write it: every word is in the account, and what was meant is read."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats.reading.account import account_of
from tourstats.reading.shapes import as_line, read_shape, said

AS_MEANT = [
    ("intro", 4), ("verse 1", 16), ("chorus 1", 8), ("verse 2", 16), ("bridge", 12), ("chorus 2", 16), ("outro", None),
]  # fmt: skip
WAYS = {
    "strokes": "in 4 | v 16 brushes | ch 8 open hat | v 16 | br 12 half-time, crash on 2 going in | ch 8 x2 "
    "| out on nod",
    "lines": "Intro: 4 bars\nVerse 1 (16) brushes\nChorus 8: open hat\nVerse 2: 16b\n"
    "Bridge 12 bars - half-time; crash on 2 going in\nChorus 2x8\nOutro on nod",
    "no signs": "int 4 v 16 brushes ch 8 open hat v 16 br 12 half-time crash on 2 going in ch 8x2 out",
    "glued": "in4 v16 ch8 v16 br12 ch8x2 out",
    "commas": "in 4, vs 16, cho 8, vs 16, brg 12, cho 16, out",
    "arrows": "intro 4 → verse 16 → chorus 8 → verse 16 → bridge 12 → chorus 8 twice → end",
    "bars first": "4 bars intro\n16 bars verse\n8 bars chorus\n16 bars verse\n12 bars bridge\n2 x 8 chorus\noutro",
    "numbered": "1. int 4\n2. v 16\n3. ch 8\n4. v 16\n5. br 12\n6. ch 8+8\n7. tail: out".replace(
        "7. tail: out", "7. out"
    ),
    "brackets": "[Intro] 4\n[Verse 1] 16\n[Chorus] 8\n[Verse 2] 16\n[Bridge] 12\n[Chorus] 16\n[Outro]",
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_writing_it_reads_the_same(way):
    """
    Strokes, lines, neither, glued, commas, arrows, bars first: the sections and their bars are those that were meant.
    """
    shape = read_shape(WAYS[way])

    assert AS_MEANT == [
        (name, None if pd.isna(bars) else bars) for name, bars in zip(shape.name, shape.bars, strict=True)
    ]
    assert shape.sure.all()


def test_what_stands_behind_is_sorted():
    """
    How it feels, who leads, the cue, and the hits each have their place, with or without a label.
    """
    shape = read_shape(
        "count 4 sticks, Bram\nv 16 brushes, Runa leads\nch 8 open hat crash on 1; and of 4\n"
        "solo 12, feel: on cue, follow Ilka\nout, on nod, hits: last three"
    ).set_index("name")

    assert "count 4 sticks, Bram" == shape.attrs["start"]
    assert ["brushes", "Runa"] == shape.loc["verse", ["feel", "leads"]].tolist()
    assert ["open hat", "crash on 1; and of 4"] == shape.loc["chorus", ["feel", "hits"]].tolist()
    assert ["on cue", "Ilka"] == shape.loc["solo", ["feel", "leads"]].tolist()
    assert ["on nod", "last three"] == shape.loc["outro", ["cue", "hits"]].tolist()


def test_what_is_not_sure_is_said():
    """
    A name nobody uses, a line that names nothing, and what is no part of a shape: each is said, none is lost.
    """
    shape = read_shape("Marrow Picnic, as we play it\nstomp bit 4\nrather dry\n120 bpm\nverse 2")

    assert ["stomp bit", "verse 2"] == shape.name.tolist()
    assert ["rather dry", None] == shape.feel.astype(object).where(shape.feel.notna(), None).tolist()
    assert [
        "2 sections, 4 bars, 1 without a number of bars.",
        "Look at stomp bit: its name is not a usual one.",
        'Left out, since it is not part of the shape: "120 bpm".',
        'Taken for a heading: "Marrow Picnic, as we play it".',
    ] == said(shape)


def test_letters_are_parts_where_there_is_an_a():
    """
    A, A, B, A are four parts; without an A, a B is a bridge and a C a chorus.
    """
    assert ["A 1", "A 2", "B", "A 3"] == read_shape("A 8 | A 8 | B 8 | A 8").name.tolist()
    assert [8, 8, 8, 8] == read_shape("AABA 32").bars.tolist()
    assert ["verse", "chorus", "bridge"] == read_shape("v 16 | c 8 | b 8").name.tolist()


WORDS = st.sampled_from([
    *("v 16", "ch 8", "br 12", "out", "int 4", "x2", "brushes", "crash on 2", "on nod", "Ilka leads", "(8)", "A 8"),
    *("feel: dry", "stomp bit 4", ":", ";", ", ", "\n", "|", " → ", "120 bpm", "count 4", "2x8", "verse 2", "[Chorus]"),
    *("é", "猫 4", "half-time", "||"),
])  # fmt: skip


@given(st.lists(WORDS, max_size=14))
def test_nothing_that_is_typed_is_dropped(words):
    """
    Every letter and figure stands in the account once, where it was typed.
    """
    text = " ".join(words)
    account = account_of(read_shape(text).attrs["account"])
    lines = [list(line) for line in text.splitlines()]
    for piece in account.itertuples():
        place = slice(piece.column - 1, piece.column - 1 + len(piece.as_typed))
        assert piece.as_typed == "".join(lines[piece.row - 1][place])
        lines[piece.row - 1][place] = " " * len(piece.as_typed)

    assert not [letter for line in lines for letter in line if letter.isalnum() and letter != "x"]


@given(st.lists(WORDS, max_size=14))
def test_a_shape_written_out_reads_back(words):
    """
    What a person gets to correct is the same shape.
    """
    shape = read_shape(" ".join(words))
    again = read_shape(as_line(shape))
    kept = ["name", "bars", "feel", "leads", "cue", "hits"]

    assert shape[kept].to_dict("records") == again[kept].to_dict("records") or shape[kept].equals(again[kept])
