"""One song: nothing that was said of it is lost, and what went wrong last night is in front tonight."""

import math

import pandas as pd
import pytest

from tourstats.models import song, tonight
from tourstats.problems import UnknownSongProblem
from tourstats.tour import Tour


@pytest.fixture(scope="module")
def tour():
    """Six shows; the last is tonight. Of each kind of sentence there are some, each with words of its own."""
    found = [
        (1, "Qx Wire", 1, "wire one"), (2, "Qx Wire", 3, "wire two"), (2, "Qx Wire", 1, "wire three"),
        (3, "Qx Wire", 2, "wire four"), (4, "Qx Wire", 1, "wire five"), (5, "Qx Wire", 1, "wire six"),
        (5, "Qx Rook", 3, "rook one"), (5, "Qx Gone", 3, "gone one"),
    ]  # fmt: skip
    notes = [
        ("song", "Qx Rook", None, "note on the rook", False), ("song", "Qx Rook", "festival", "only outdoors", False),
        ("song", "Qx Rook", "club", "here too", True), ("room", None, "club", "low ceiling", False),
    ]  # fmt: skip
    return Tour.of(
        songs=pd.DataFrame({"song": ["Qx Rook", "Qx Wire", "Qx Gone"], "aliases": [None, "The Copper One", None]}),
        venues=pd.DataFrame({"venue": ["Weir Loft"], "city": ["Ostby"], "room": ["club"]}),
        shows=pd.DataFrame({
            "show_id": range(1, 7), "date": pd.date_range("2031-03-04", periods=6), "city": "Ostby", "room": "club",
            "venue": "Weir Loft",
        }),
        plays=pd.DataFrame({"show_id": [1, 2, 3, 4, 5, 5], "position": [1, 1, 1, 1, 1, 2],
                            "song": ["Qx Wire"] * 5 + ["Qx Rook"]}),
        planned=pd.DataFrame({"show_id": 6, "position": [1, 2], "song": ["Qx Rook", "Qx Wire"]}),
        reviews=pd.DataFrame({"show_id": [1, 2, 3, 4, 5], "song": "Qx Wire"}),
        mistakes=pd.DataFrame(found, columns=["show_id", "song", "severity", "remark"]),
        worked=pd.DataFrame({"show_id": [5], "song": ["Qx Rook"], "remark": ["tempo sat right"]}),
        notes=pd.DataFrame(notes, columns=["about", "song", "room", "text", "personal"]).assign(date="2031-03-05"),
    )  # fmt: skip


def test_everything_said_of_tonights_songs_comes_back_with_its_song(tour):
    """
    Each finding, what worked and each note is there once, at its song; another room's note and another song's are not.
    """
    words = tonight.brief(tour, 6).words

    assert {f"wire {n}" for n in ("one", "two", "three", "four", "five", "six")} == {
        text.split(",")[0] for text in words[words.song == "Qx Wire"].words
    }
    assert ["rook one, everyone heard it", "worked: tempo sat right", "note on the rook", "here too"] == (
        words[words.song == "Qx Rook"].words.tolist()
    )
    assert [1, 2] == words.position.unique().tolist()


def test_three_sentences_stand_at_once_and_the_last_two_shows_always(tour):
    """
    The newest first; of one night the loudest first.
    """
    words = tonight.brief(tour, 6).words
    wire = words[words.song == "Qx Wire"]

    assert ["wire six", "wire five", "wire four"] == [text.split(",")[0] for text in wire[wire.shown].words]
    assert ["wire two", "wire three", "wire one"] == [text.split(",")[0] for text in wire[~wire.shown].words]


def test_a_mistake_of_last_night_is_never_one_press_away(tour):
    """
    Also where five stand before it.
    """
    more = pd.DataFrame({"show_id": 5, "song": "Qx Rook", "severity": 1, "remark": [f"slip {n}" for n in range(5)]})
    said = tonight.brief(tour.replaced(mistakes=pd.concat([tour.mistakes, more])), 6).words

    rook = said[(said.song == "Qx Rook") & (said.what == "mistake")]
    assert rook.shown.tolist() == [True] * 6


def test_nothing_that_was_written_later_is_known(tour):
    """
    The page of the third show does not know what was found at the third.
    """
    past = tour.until(3)

    assert {"wire one", "wire two", "wire three"} == {text.split(",")[0] for text in song.told(past, ["Qx Wire"]).words}


def test_a_song_is_found_by_another_name_and_in_any_case(tour):
    """
    Its title is the one of the repertoire; what is written otherwise is not guessed.
    """
    assert "Qx Wire" == song.song(tour, "the COPPER one").title

    with pytest.raises(UnknownSongProblem) as caught:
        song.song(tour, "Qx Wier")
    assert '"Qx Wier" is not in the repertoire. The nearest in the repertoire: "Qx Wire"' in str(caught.value)


def test_a_songs_history_says_where_it_was_out_and_where_nobody_listened(tour):
    """
    A show without it is a row, and a song that was not reviewed is not a clean one.
    """
    rook = song.song(tour, "Qx Rook").history
    wire = song.song(tour, "Qx Wire").history

    assert [2] == rook.position.tolist()
    assert [True] == rook.mistakes.isna().tolist()
    assert [1, 2, 1, 1, 1] == wire.mistakes.tolist()


# The rule of succession: after n of n, the next is one too with chance (n + 1) / (n + 2). Laplace (1814), from memory.
@pytest.mark.parametrize(("in_a_row", "sure"), [(0, 1 / 2), (1, 2 / 3), (8, 9 / 10), (18, 19 / 20)])
def test_the_chance_of_a_clean_next_one_is_the_rule_of_succession(in_a_row, sure):
    """
    Whatever went wrong before the run of clean ones.
    """
    found = song.streak([2, 1, *[0] * in_a_row])

    assert (in_a_row, pytest.approx(sure), 8) == (found.in_a_row, found.sure, found.needed)


@pytest.mark.parametrize(
    ("words", "kind", "name"),
    [("copper", "song", "Qx Wire"), ("loft", "venue", "Weir Loft"), ("2031-03-06", "show", "3"),
     ("SAT tempo", "said", "Qx Rook"), ("ceiling", "said", "club")],
)  # fmt: skip
def test_one_search_finds_songs_venues_shows_and_words(tour, words, kind, name):
    """
    Every word has to be there, in any order and case.
    """
    assert [kind, name] == song.search(tour, words).iloc[0][["kind", "name"]].tolist()


def test_nothing_is_found_for_nothing(tour):
    """
    An empty field lists nothing.
    """
    assert 0 == len(song.search(tour, "  ")) == len(song.search(tour, "no such words anywhere"))


@pytest.mark.parametrize(
    ("mistakes", "out", "remark", "safe"),
    [((), 3, None, True), ((), 4, None, False), ((), 0, "short intro", False), ((9,), 0, None, False)],
)
def test_a_song_is_safe_as_it_was_clean(mistakes, out, remark, safe):
    """
    Nine clean in a row, once after three shows out: not after four, not when something is said, not after a mistake.
    """
    ids = range(1, 14)
    plays = pd.DataFrame({"show_id": ids, "position": 1, "song": "Qx Rook"})
    plays.loc[2:4, "song"] = "Qx Wire"
    tour = Tour.of(
        songs=pd.DataFrame({"song": ["Qx Rook", "Qx Wire"]}),
        shows=pd.DataFrame({"show_id": ids, "date": pd.date_range("2031-03-04", periods=13)}),
        plays=plays,
        reviews=plays,
        mistakes=pd.DataFrame({"show_id": list(mistakes), "song": "Qx Rook", "severity": 1, "listening": 2}),
    )
    found = song.records(tour, ["Qx Rook"])["Qx Rook"]

    assert safe == song.safe_tonight(found, out, remark)


def test_what_is_safe_is_one_rule(tour):
    """
    Twelve clean in a row are at most 0.25 a performance, seven are not safe yet, and a mistake begins anew. J. A.
    Hanley and A. Lippman-Hand (1983), JAMA 249: 1743-1745, the rule of three; F. Garwood (1936), of no event: 2.9957.
    """
    ids = range(1, 13)
    titles = {"Qx Rook": ids, "Qx Wire": range(6, 13), "Qx Lamp": ids}
    plays = pd.concat([pd.DataFrame({"show_id": shows, "song": song}) for song, shows in titles.items()])
    plays["position"] = plays.groupby("show_id").cumcount() + 1
    shows = pd.DataFrame({"show_id": ids, "date": pd.date_range("2031-03-04", periods=12)})
    wrong = pd.DataFrame({"show_id": [4], "song": ["Qx Lamp"], "severity": 1, "listening": 2})
    table = song.safe(Tour.of(shows=shows, plays=plays, reviews=plays, mistakes=wrong))

    assert [("Qx Rook", 12, True), ("Qx Lamp", 8, True), ("Qx Wire", 7, False)] == [
        (row.song, row.in_a_row, row.safe) for row in table.itertuples()
    ]
    assert 2.9957 / 12 == pytest.approx(table.at_most[0], abs=1e-4)
    assert [row.safe for row in table.itertuples()] == [
        song.streak([0] * row.in_a_row).holds for row in table.itertuples()
    ]


def test_the_change_into_the_encore_is_no_transition():
    """
    Of three songs the last is the encore: one transition, that into the second.
    """
    plays = pd.DataFrame({
        "show_id": 1, "position": [1, 2, 3], "song": ["Qx Rook", "Qx Wire", "Qx Lamp"], "encore": [False, False, True],
    })  # fmt: skip
    shows = pd.DataFrame({"show_id": [1], "date": ["2031-03-04"]})
    found = song.crossings(Tour.of(songs=plays[["song"]], shows=shows, plays=plays), "Qx Wire")

    assert [("Qx Rook", "Qx Wire")] == [*found[["song", "next_song"]].itertuples(index=False, name=None)]


def test_a_song_is_wanted_when_it_is_as_likely_as_not_to_have_come():
    """
    By hand: a chance p at each show is a half after log(1/2) / log(1 - p) of them; one show is in the diary, tomorrow,
    the others come every third day as they did.
    """
    dates = pd.date_range("2031-03-04", periods=9, freq="3D")
    sets = ["AB", "AB", "AC", "AB", "AD", "AB", "AB", "AC"]
    rows = [(at + 1, place, f"Qx {name}") for at, names in enumerate(sets) for place, name in enumerate(names, 1)]
    tour = Tour.of(
        songs=pd.DataFrame({"song": ["Qx A", "Qx B", "Qx C", "Qx D"]}),
        shows=pd.DataFrame({"show_id": range(1, 10), "date": dates}),
        plays=pd.DataFrame(rows, columns=["show_id", "position", "song"]),
    )
    found = song.wanted(tour, dates[-1] - pd.Timedelta(days=1))
    shows = {title: math.ceil(math.log(0.5) / math.log(1 - chance)) for title, (chance, _) in found.items()}

    assert max(shows.values()) > 1  # one at least is more likely out of the next set than in it
    assert {title: 1 + 3 * (many - 1) for title, many in shows.items()} == {
        title: days for title, (_, days) in found.items()
    }


def test_a_transition_says_how_it_went(tour):
    """
    How often it was played and listened to, what was found at its seam and no mistake from the middle of a song.
    """
    late = pd.DataFrame({
        "show_id": [5, 5, 5], "song": ["Qx Rook", "Qx Wire", "Qx Rook"], "severity": [2, 1, 3],
        "kind": ["entry", "ending", "tempo"], "remark": ["a beat late", "held too long", "rushed"],
    })  # fmt: skip
    notes = pd.DataFrame({"about": "transition", "song": ["Qx Wire"], "next_song": ["Qx Rook"], "text": ["breathe"]})
    ticks = pd.DataFrame({"show_id": [4], "thing": ["band, transition: Qx Wire > Qx Rook"]})
    reviews = pd.DataFrame({"show_id": [5], "song": ["Qx Rook"]})
    went = song.crossings(tour.replaced(mistakes=late, notes=notes, ticks=ticks, reviews=reviews), "Qx Rook")

    (row,) = went.itertuples()
    assert ("Qx Wire", "Qx Rook", 1, 1, 2, "breathe") == (
        row.song, row.next_song, row.times, row.reviewed, row.mistakes, row.notes
    )  # fmt: skip
    assert "entry: a beat late, the band heard it" == row.found
    assert "2031-03-07" == f"{row.tried:%Y-%m-%d}"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("12 rushed in chorus 2 !!", "rushed in chorus 2, everyone heard it"),
        ("qx rook: rushed in chorus 2 !!", "rushed in chorus 2, everyone heard it"),
        ("Qx Rook rushed in chorus 2 sev 3", "rushed in chorus 2, everyone heard it"),
        ("rushed, everyone heard it", "tempo: rushed, everyone heard it, chorus 2"),
        ("2 bars early in chorus 2", "tempo: 2 bars early in chorus 2, everyone heard it"),
        (None, "tempo, chorus 2, everyone heard it"),
    ],
)
def test_a_finding_is_said_without_the_number_of_its_night_and_without_marks(tour, typed, said):
    """
    "12" stood on another night's sheet, and the marks are words; the diary keeps what was typed.
    """
    mistakes = pd.DataFrame({
        "show_id": [5], "song": ["Qx Rook"], "severity": [3], "kind": ["tempo"], "section": ["chorus 2"],
        "remark": [typed],
    })  # fmt: skip
    found = tour.replaced(mistakes=mistakes, worked=tour.worked[:0], notes=tour.notes[:0])

    assert [said] == song.told(found, ["Qx Rook"]).words.tolist()
    assert typed is None or [typed] == found.mistakes.remark.tolist()


def test_what_two_listenings_found_in_the_same_words_stands_once(tour):
    """
    What only the second found says so; two alike in one performance stay two.
    """
    heard = [(1, "late"), (1, "late"), (2, "late"), (2, "dragged")]
    found = pd.DataFrame(heard, columns=["listening", "remark"]).assign(show_id=5, song="Qx Rook", severity=1)

    assert ["late", "late", "dragged; found listening again"] == song.told(
        tour.replaced(mistakes=found, worked=tour.worked.head(0), notes=tour.notes.head(0))
    ).words.tolist()
