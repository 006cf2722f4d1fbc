"""Matching titles: kinds of evidence, laws of the slips, and the bars on lines typed by a noise process."""

import importlib.util
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats.reading.sets import read_set
from tourstats.reading.titles import fold, index, loose, slips

_SPEC = importlib.util.spec_from_file_location("noise", Path(__file__).with_name("noise.py"))
noise = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(noise)

WORDS = st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=12)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Café  Noir", "cafe noir"),
        ("Søndag", "SONDAG"),
        ("Don't Wait", "dont wait"),
        ("Salt & Road", "salt AND road"),
        ("Żółta Łódź", "zolta lodz"),
        ("Straße", "STRASSE"),
    ],
)
def test_two_ways_of_typing_fold_to_one(one, other):
    """
    Case, accents, punctuation and signs for "and" do not count.
    """
    assert fold(one) == fold(other)


def test_marks_that_make_another_letter_stay():
    """
    In Japanese the mark is part of the letter.
    """
    assert fold("がき") != fold("かき")


@given(st.text(max_size=40))
def test_folding_twice_is_folding_once(text):
    """
    A folded text is its own fold.
    """
    assert fold(text) == fold(fold(text))


def test_parts_are_alike_however_they_are_written():
    """
    "Pt. 2", "part II" and "Part Two" are one part, part 1 another.
    """
    assert 1 == len({loose("Ferry, Pt. 2"), loose("ferry part II"), loose("The Ferry (Part Two)")})
    assert loose("Ferry, Pt. 1") != loose("Ferry, Pt. 2")


@pytest.mark.parametrize(
    ("typed", "meant", "cost"),
    [
        ("ferry", "ferry", 0),
        ("ferrry", "ferry", 0.5),  # doubled
        ("fery", "ferry", 0.5),  # one of a double dropped
        ("feryr", "ferry", 0.6),  # swapped
        ("ferrt", "ferry", 0.6),  # the key beside
        ("fery", "feryx", 0.8),  # dropped
        ("fexry", "ferry", 1.0),  # another letter
        ("berry", "ferry", 1.3),  # another first letter
    ],
)
def test_slips_cost_what_a_keyboard_makes_likely(typed, meant, cost):
    """
    By hand, from the costs in the docstring.
    """
    assert cost == slips(typed, meant)


@given(WORDS, WORDS)
def test_slips_cost_nothing_only_between_equals(one, other):
    """
    Any difference costs at least half a slip, and never more than typing it all anew.
    """
    assert (slips(one, other) == 0) == (one == other)
    assert one == other or 0.5 <= slips(one, other) <= len(one) + len(other) + 0.6


@pytest.mark.parametrize(
    ("typed", "song", "evidence"),
    [
        ("COPPER WIRE", "Copper Wire", "same"),
        ("copperwire", "Copper Wire", "same"),
        ("ferry song", "The Ferry Song", "same"),
        ("boat song", "The Ferry Song", "same"),
        ("cop[er wire", "Copper Wire", "slip"),
        ("Harbour", "Harbour Ladle", "first words"),
        ("Harbuor", "Harbour Ladle", "first words"),
        ("Harbour La", "Harbour Ladle", "cut short"),
        ("TFS", "The Ferry Song", "initials"),
        ("T.F.S.", "The Ferry Song", "initials"),
    ],
)
def test_each_kind_of_evidence_finds_its_song(typed, song, evidence):
    """
    One line for each kind.
    """
    songs = pd.DataFrame(
        {"song": ["Copper Wire", "The Ferry Song", "Harbour Ladle"], "aliases": [None, "Boat song", None]}
    )
    match = index(songs).match(typed)

    assert (song, evidence) == (match.song, match.evidence)


def test_a_word_of_another_title_is_no_slip():
    """
    "Lone" is a word of the language, "Lije" may be one of the repertoire; else it is a slip of "Line".
    """
    assert index(["Salt Line", "Ferry"]).match("Salt Lone").song is None
    assert index(["Salt Line", "Ferry"]).match("Salt Lije").song == "Salt Line"
    assert index(["Salt Line", "Old Lije"]).match("Salt Lije").song is None


@pytest.mark.parametrize(
    ("typed", "song"),
    [
        ("Cornet", "Corner"),
        ("Lodger", "Ledger"),
        ("Frog Fair", "Fog Fair"),
        ("1908", "1907"),
        ("11th Tram", "19th Tram"),
        ("Night Coach 41", "Night Coach 14"),
    ],
)
def test_a_neighbour_that_is_a_word_or_a_number_is_another_song(typed, song):
    """
    What a likeness takes alone is a slip that means nothing.
    """
    match = index([song, "Gravel Pylon", "Walrus Parade"]).match(typed)

    assert (None, (song,)) == (match.song, match.candidates[:1])


def test_a_bare_word_of_several_titles_is_asked_about():
    """
    "Marrow" may be either, wherever the word stands; "Gravel" stands in one title only.
    """
    titles = index(["Marrow Picnic", "Old Marrow", "Gravel Pylon"])

    assert (None, {"Marrow Picnic", "Old Marrow"}) == (
        titles.match("Marrow").song,
        set(titles.match("Marrow").candidates),
    )
    assert "Gravel Pylon" == titles.match("Gravel").song


def test_another_word_is_no_slip_however_rare():
    """
    A septet is no sextet, nor a Moder a Mader; a finger that slips makes "sectet" and "coper".
    """
    titles = index(["Sextet", "Copper Wire"])

    assert [None, "Sextet", "Copper Wire"] == [titles.match(text).song for text in ("Septet", "Sectet", "Coper Wire")]


def test_words_of_one_title_stand_for_it_only_in_a_set_that_is_known():
    """
    "Gull Attack" is Sudden Gull Attack among five songs that are known; alone it is asked about, and so is one word.
    """
    songs = ["Sudden Gull Attack", "Ferry", "Wren", "Salt Road", "Copper Wire", "Tin Rook"]
    among = read_set("Ferry\nWren\nGull Attack\nSalt Road\nCopper Wire\nTin Rook", songs)

    assert "Sudden Gull Attack" == among.song.iloc[2]
    assert not read_set("Gull Attack", songs).sure.any()
    assert not read_set("Ferry\nWren\nAttack\nSalt Road\nCopper Wire\nTin Rook", songs).sure.iloc[2]


def test_another_number_is_no_slip():
    """
    "Ferry 8" is not "Ferry 9".
    """
    assert index(["Long Ferry No. 9"]).match("Long Ferry No. 8").song is None


def _dealt(typed, size=25):
    """Lines dealt into sets in which no song stands twice, as in a set that somebody sends."""
    sets = []
    for line in typed:
        room = (
            one for one in sets if len(one) < size and line.meant not in {other.meant for other in one if other.meant}
        )
        into = next(room, None)
        if into is None:
            sets.append(into := [])
        into.append(line)
    return sets


def _measured(style, seed, lines=200, strangers=100):
    """Counts of lines sure and right, sure and wrong, and of strangers taken, in sets of 25."""
    rng = np.random.default_rng([seed, 41])
    titles = noise.repertoire(rng, style)
    counts = Counter()
    made = {"line": noise.messy(rng, titles, lines), "stranger": noise.strangers(rng, titles, style, strangers)}
    for name, typed in made.items():
        for part in _dealt(typed):
            found = read_set("\n".join(line.typed for line in part), titles)
            for number, line in enumerate(part, start=1):
                songs = [row.song for row in found[found.line == number].itertuples() if row.sure]
                counts[name] += 1
                counts[f"{name} right"] += songs == ([line.meant] if line.meant else [])
                counts["line wrong"] += line.meant is not None and any(song != line.meant for song in songs)
    return counts


def test_messy_lines_are_matched_and_strangers_are_asked_about():
    """
    Of lines that have a right answer 95 % surely and right, 0.3 % at most surely and wrong; of titles that the
    repertoire does not have and abbreviations that fit two songs at most 1 in 50 taken as sure.
    """
    counts = sum((_measured(style, seed) for style in noise.STYLES for seed in (1,)), Counter())

    assert counts["line right"] >= 0.95 * counts["line"]
    assert counts["line wrong"] <= 0.003 * counts["line"]
    assert counts["stranger"] - counts["stranger right"] <= 0.02 * counts["stranger"]
