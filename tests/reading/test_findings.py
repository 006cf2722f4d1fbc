"""Mistakes typed on a telephone: the song each is about, and what the words say of it."""

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tourstats.reading.findings import ORDINALS, read_found
from tourstats.tables import KINDS, SEVERITIES

TITLES = [
    "Ferry",
    "Copper Wire",
    "Harbour Ladle",
    "7 Bells",
    "Tin Rook",
    "Salt Road",
    "1847",
    "Late Tram",
    "Ember/Or",
    "Pier B",
    "Slow Trestle",
    "Old Trowel",
]
NIGHT = pd.DataFrame({"position": range(1, 13), "song": TITLES, "encore": [False] * 10 + [True] * 2})


def one(line, night=NIGHT, songs=None):
    return read_found(line, night, songs).iloc[0]


@pytest.mark.parametrize(
    ("line", "position"),
    [
        ("the fifth one dragged", 5),
        ("fifth dragged", 5),
        ("5 dragged in chorus 2", 5),
        ("5. dragged", 5),
        ("5: dragged", 5),
        ("5th song dragged", 5),
        ("#12 sev 3 sound", 12),
        ("song 3 rushed", 3),
        ("number six, late", 6),
        ("eleventh song groove", 11),
        ("the opener was loud", 1),
        ("closer: out of tune", 12),
        ("last one too fast", 12),
        ("the second to last one dragged", 11),
        ("first encore: slow", 11),
        ("encore 2 was late", 12),
        ("last one before the encore rushed", 10),
        ("4th: bar 7 wrong fill", 4),
    ],
)
def test_a_position_finds_its_song(line, position):
    """
    Digits, ordinals in words, the opener, the closer and the encores.
    """
    found = one(line)

    assert (position, TITLES[position - 1], "sure") == (found.position, found.song, found.verdict)


def test_ordinals_in_words_go_to_thirty():
    """
    Each word from first to thirtieth names the position it says.
    """
    songs = [f"Song {chr(65 + at)}{chr(65 + at)}{at}" for at in range(30)]
    night = pd.DataFrame({"position": range(1, 31), "song": songs})

    assert list(range(1, 31)) == [
        one(f"the {word} one dragged", night).position for word in ORDINALS if word != "thirtieth"
    ] + [one("the thirtieth one dragged", night).position]
    assert 23 == one("the twenty-third one dragged", night).position


@pytest.mark.parametrize(
    ("line", "song"),
    [
        ("harbour: late entry", "Harbour Ladle"),
        ("Ferry - wrong ending", "Ferry"),
        ("coper wire missed the second chorus", "Copper Wire"),
        ("7 Bells rushed", "7 Bells"),
        ("7 bells: rushed", "7 Bells"),
        ("1847 dragged", "1847"),
        ("late tram too fast", "Late Tram"),
        ("late entry in salt road", "Salt Road"),
        ("second chorus of pier b rushed", "Pier B"),
        ("ember/or form", "Ember/Or"),
        ("OT dragged", "Old Trowel"),
    ],
)
def test_a_title_finds_its_song(line, song):
    """
    Whole, in first words, with slips, by initials, at the front or inside; a number may be part of it.
    """
    assert song == one(line).song


@pytest.mark.parametrize(
    ("line", "column", "value"),
    [
        ("ferry: late entry bridge bar 12 !!", "kind", "entry"),
        ("ferry: late entry bridge bar 12 !!", "section", "bridge"),
        ("ferry: late entry bridge bar 12 !!", "bar", 12),
        ("ferry: late entry bridge bar 12 !!", "severity", 3),
        ("ferry dragged in chorus 2 !", "severity", 2),
        ("ferry dragged in chorus 2", "severity", 1),
        ("ferry dragged in chorus 2", "section", "chorus 2"),
        ("ferry dragged in chorus 2", "kind", "tempo"),
        ("ferry sev 2 sound", "severity", 2),
        ("ferry ending, everyone heard", "severity", 3),
        ("ferry ending, the band noticed", "severity", 2),
        ("ferry wrong ending, Sam said", "said_by", "Sam"),
        ("ferry wrong fill, said by Ilka", "said_by", "Ilka"),
        ("ferry too loud", "kind", "dynamics"),
        ("ferry skipped the bridge", "kind", "form"),
        ("ferry stiff groove", "kind", "groove"),
        ("ferry strange", "kind", "other"),
        ("ferry dropped a stick", "cause", "playing"),
        ("ferry sample came wrong", "cause", "sound"),
        ("slow dance was fine but the fill was not", "kind", "fill"),
    ],
)
def test_words_say_kind_section_bar_severity_cause_and_who(line, column, value):
    """
    What is in the title does not count: "Slow Trestle" is no slow tempo.
    """
    assert value == one(line)[column]


@pytest.mark.parametrize(
    ("line", "verdict", "candidates"),
    [
        ("dragged somewhere", "unknown", []),
        ("the thirteenth one dragged", "unknown", []),
        ("2. Tin Rook dragged", "doubtful", ["Copper Wire", "Tin Rook"]),
        ("Brass Elephants: late", "unknown", []),
    ],
)
def test_what_does_not_point_at_one_song_is_asked_about(line, verdict, candidates):
    """
    No song, a position that the set does not have, and a position that says another song than the title.
    """
    found = one(line)

    assert (verdict, candidates, line) == (found.verdict, found.candidates, found.remark)
    assert pd.isna(found.song)
    assert pd.isna(found.position)


def test_a_song_that_was_not_in_the_set_is_asked_about():
    """
    The repertoire has it, the night did not.
    """
    found = one("Paper Moths: late", NIGHT, [*TITLES, "Paper Moths"])

    assert ("doubtful", ["Paper Moths"]) == (found.verdict, found.candidates)


def test_lines_below_a_title_belong_to_it():
    """
    A title with a colon names the song of the bullets below, until a line that is none.
    """
    found = read_found("Tin Rook:\n- dragged in the last chorus\n- wrong ending\nferry: late\n- loud", NIGHT)

    assert ["Tin Rook", "Tin Rook", "Ferry", None] == found.song.astype(object).where(found.song.notna(), None).tolist()
    assert [(1, "Tin Rook:", "names the song of the lines below")] == found.attrs["ignored"]


def test_a_clean_night_is_no_mistake():
    """
    "All clean" is listed aside.
    """
    found = read_found("all clean\n\nnothing found", NIGHT)

    assert (0, 3) == (len(found), len(found.attrs["ignored"]))


@settings(max_examples=120, deadline=None)
@given(
    st.text(max_size=120)
    | st.lists(
        st.sampled_from(
            ["the", "fifth", "one", "Ferry", "#5", "encore", "dragged", "!!", "\n", "bar", "99", "said", ":", "- "]
        ),
        max_size=25,
    ).map(" ".join)
)
def test_nothing_that_was_found_is_lost(text):
    """
    Each line of any text is a mistake, whole in its remark, or listed aside; what is filled in is allowed.
    """
    found = read_found(text, NIGHT)

    assert set(range(1, len(text.splitlines()) + 1)) == {*found.line, *(line for line, _, _ in found.attrs["ignored"])}
    assert set(found.kind) <= set(KINDS)
    assert set(found.severity) <= set(SEVERITIES)
    assert found.song.notna().tolist() == found.sure.tolist()


def test_a_show_without_a_set_asks_about_every_line():
    """
    Nothing is known of the night, and nothing is an error.
    """
    assert ["unknown"] == read_found("the fifth one dragged", NIGHT.iloc[:0]).verdict.tolist()
