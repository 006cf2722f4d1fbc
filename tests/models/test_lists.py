"""Lists for the band, the technician and the musical director, and what is set out before doors."""

import pandas as pd
import pytest

from tourstats.models import tonight
from tourstats.tour import Tour

PRIVATE = "qzprivate"


@pytest.fixture(scope="module")
def tour():
    """Twelve shows of the same three songs; tonight a new one, one that was out, a segue, and much that is private."""
    sets = [["Qx Ferry", "Qx Wire", "Qx Rook"]] * 2 + [["Qx Ferry", "Qx Wire"]] * 10
    rows = [(show, at, song) for show, played in enumerate(sets, 1) for at, song in enumerate(played, 1)]
    plays = pd.DataFrame(rows, columns=["show_id", "position", "song"])
    return Tour.of(
        songs=pd.DataFrame({
            "song": ["Qx Ferry", "Qx Wire", "Qx Rook", "Qx New"], "minutes": [4.0, 3.0, 5.0, None],
            "tempo_bpm": [100.0, 104.0, 60.0, 100.0], "starts_by": ["cello", "drums", None, "piano"],
            "gear": ["castanets", "castanets; brushes", "triangle", None], "samples": [None, None, "bell; clock", None],
            "track": [None, "click", None, None], "track_by": [None, "Teo, switch", None, None],
            "track_fails": [None, "straight on, drums count", None, None], "watch": f"{PRIVATE} watch",
        }),
        shows=pd.DataFrame({"show_id": range(1, 14), "date": pd.date_range("2031-03-04", periods=13)}),
        plays=plays,
        planned=pd.DataFrame({"show_id": 13, "position": [1, 2, 3, 4],
                              "song": ["Qx Ferry", "Qx Wire", "Qx Rook", "Qx New"],
                              "remark": [None, "new ending", None, "NEW"], "segue": [False, False, True, False]}),
        reviews=pd.DataFrame({"show_id": [12, 12], "song": ["Qx Ferry", "Qx Wire"]}),
        mistakes=pd.DataFrame({"show_id": 12, "song": ["Qx Ferry", "Qx Wire"], "kind": "entry", "section": "coda",
                               "severity": [2, 1], "remark": f"{PRIVATE} remark"}),
        notes=pd.DataFrame({"about": "song", "song": ["Qx Ferry", "Qx Wire"], "text": f"{PRIVATE} note",
                            "personal": [True, False]}),
        things=pd.DataFrame({"thing": ["fan", "triangle"], "spare": [None, "the small one in the case"]}),
        ticks=pd.DataFrame({"show_id": [12, 13], "thing": ["fan", "triangle"]}),
    )  # fmt: skip


@pytest.fixture(scope="module")
def brief(tour):
    """The show day of the last show."""
    return tonight.brief(tour, 13, minutes=60)


def test_the_band_tries_first_what_is_most_needed(brief):
    """
    A segue never played, a new ending and a new song, what was out long for all, what the band heard go wrong.
    """
    rows = [(row.what, row.song, row.why, row.who) for row in brief.band.fillna("").itertuples()]

    assert [
        ("transition", "Qx Rook", "never played, segue, tempo 60 to 100", "piano"),
        ("said tonight", "Qx Wire", "new ending", "drums"),
        ("song", "Qx New", "never played at a show, NEW", "piano"),
        ("song", "Qx Rook", "out 10 shows", ""),
        ("left open", "Qx Ferry", "entry, coda (last show)", "cello"),
    ] == rows
    assert [1.5, 2.0, 4.0, 5.0, 2.0] == brief.band.minutes.tolist()


def test_what_the_band_takes_on_leaves_my_plan(tour, brief):
    """
    A tick at a song and at a transition: neither is in the plan any more.
    """
    keys = brief.band.key[[0, 2, 3]]
    ticks = pd.DataFrame({"show_id": 13, "thing": keys})
    after = tonight.brief(tour.replaced(ticks=ticks), 13, minutes=60)

    assert {"Qx New", "Qx Rook"} <= {*brief.plan.song, *brief.plan.next_song}
    assert not {"Qx New", "Qx Rook"} & {*after.plan.song, *after.plan.next_song}
    assert [True, False, True, True, False] == after.band.ticked.tolist()


def test_the_technician_reads_what_changes_hands(brief):
    """
    What comes, what goes, what is armed, by whom, and what if it fails: the user's own words or none.
    """
    rows = brief.technician.itertuples(index=False, name=None)

    assert [
        (0, "Qx Ferry", "", "castanets", "", "", ""),
        (1, "Qx Wire", "", "brushes", "track click", "Teo, switch", "straight on, drums count"),
        (2, "Qx Rook", "castanets and brushes", "triangle", "samples bell and clock", "",
         "triangle: the small one in the case"),
        (3, "Qx New", "triangle", "", "", "", ""),
    ] == list(rows)  # fmt: skip


def test_the_director_sees_every_transition(brief):
    """
    How often it was played, its tempi, whether there is a gap, and who starts.
    """
    assert [
        (1, "Qx Ferry", "Qx Wire", "", 12, "100 to 104", "drums", "", ""),
        (2, "Qx Wire", "Qx Rook", "", 2, "104 to 60", "", "", ""),
        (3, "Qx Rook", "Qx New", "segue", 0, "60 to 100", "piano", "", ""),
    ] == list(brief.director.itertuples(index=False, name=None))


def test_what_is_set_out_has_no_spare_that_nobody_named(brief):
    """
    In the order needed, then what is out every night; ticks of another show are not tonight's.
    """
    rows = [(row.item, row.kind, row.spare, row.ticked) for row in brief.ready.itertuples()]

    assert [
        ("castanets", "gear", "", False),
        ("brushes", "gear", "", False),
        ("click", "track", "straight on, drums count", False),
        ("triangle", "gear", "the small one in the case", True),
        ("bell", "sample", "", False),
        ("clock", "sample", "", False),
        ("fan", "always", "", False),
    ] == rows


def test_nothing_private_stands_on_a_list_of_others(brief):
    """
    Notes, spots to watch and what a finding says are the writer's own, whether they are called personal or not.
    """
    lists = [brief.band, brief.technician, brief.director, brief.ready]

    assert [] == [cell for table in lists for cell in table.to_numpy().ravel() if PRIVATE in str(cell)]


@pytest.mark.parametrize(
    ("written", "source"),
    [
        ({"notes": {"about": "song", "date": "2031-03-15", "text": "new ending from now on"}}, "a note"),
        (
            {"mistakes": {"show_id": 12, "severity": 1, "remark": "the outro is shorter now"}},
            "a finding",
        ),
        ({"worked": {"show_id": 12, "remark": "the new tag"}}, "a finding"),
        ({"sections": {"position": 1, "name": "outro", "hits": "new: stop on 4"}}, "its shape"),
        ({"notes": {"about": "song", "date": "2031-03-05", "text": "new ending from now on"}}, None),
        ({"notes": {"about": "song", "date": "2031-03-15", "text": "new ending", "personal": True}}, None),
        ({"notes": {"about": "song", "date": "2031-03-15", "text": "a new shirt"}}, None),
    ],
)
def test_a_new_ending_comes_from_what_was_written_down(tour, written, source):
    """
    From a note since it was last played, a finding of that show or its shape: said without its words; not from what the
    song has been played with since, nor from what is personal.
    """
    tables = {name: pd.DataFrame([{"song": "Qx Ferry"} | row]) for name, row in written.items()}
    band = tonight.brief(tour.replaced(**tables), 13).band
    rows = band[band.what == "new ending"]

    assert ([("Qx Ferry", f"new ending, by {source}")] if source else []) == list(zip(rows.song, rows.why, strict=True))
