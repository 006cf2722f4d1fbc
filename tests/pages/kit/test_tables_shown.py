"""Tables as people read them."""
# ruff: noqa: RUF001  # the dash of what is not known

import re
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tourstats.pages.kit.look import LIVE_ONLY
from tourstats.pages.kit.tables_shown import LABELS, _column, as_text, cell, shown

OUT = pd.DataFrame(
    {
        "song": ["Ferry", "日本語の歌", "Tin <b>Rook</b> & Co"],
        "layoff_shows": pd.array([14, 3, None], dtype="Int64"),
        "layoff_days": [31.0, np.nan, 2.0],
        "last_played": pd.to_datetime(["2031-03-04", "2031-12-24", None]),
    }
)


def test_the_terminal_shows_words_days_and_dashes_in_columns_that_line_up():
    """
    Japanese letters are twice as wide, headings wrap, days are written out, and what is not known is a dash.
    """
    lines = [
        "song                   out,  out,  last played",
        "                      shows  days",
        "Ferry                    14    31   4 Mar 2031",
        "日本語の歌                3     –  24 Dec 2031",
        "Tin <b>Rook</b> & Co      –     2            –",
    ]

    assert lines == as_text(OUT).splitlines()


def test_a_narrow_terminal_cuts_words_and_no_figure():
    """
    At 40 letters the title gives way and says so; figures and days stay whole.
    """
    lines = as_text(OUT, width=40).splitlines()

    assert "Tin <b>Rook</…      –     2            –" == lines[-1]
    assert all(len(line) <= 40 for line in lines)
    assert "24 Dec 2031" in lines[3]


def test_typed_text_is_never_markup():
    """
    A title with signs of HTML is shown as it was typed.
    """
    page = shown(OUT.assign(more=1), labels={"song": "<i>title</i>"}, caption="out & rest").html

    assert ">Tin &lt;b&gt;Rook&lt;/b&gt; &amp; Co</td>" in page
    assert '<th role="columnheader" scope="col">&lt;i&gt;title&lt;/i&gt;</th>' in page
    assert 'data-head="&lt;i&gt;title&lt;/i&gt;"' in page
    assert "<caption>out &amp; rest</caption>" in page


def test_a_notebook_table_is_legible_and_its_figures_stand_right():
    """
    Sixteen dots of type, headings that a screen reader can tell, figures and days to the right.
    """
    page = shown(OUT, ["song", "layoff_shows", "last_played"]).html

    assert "font-size:16px" in page
    assert '<th scope="col" class="number">out, shows</th>' in page
    assert '<td>Ferry</td><td class="number">14</td><td class="number">4 Mar 2031</td>' in page


TRANSITIONS = pd.DataFrame(
    {
        "position": [1, 2],
        "song": ["Ferry", "Tin Rook"],
        "next_song": ["Tin Rook", "Salt"],
        "because": ["tempo " * 9, ""],
    }
)


def test_words_at_the_end_of_a_row_go_below_it_on_a_telephone():
    """
    The other columns stay beside each other, and a screen reader still hears of a table.
    """
    page = shown(TRANSITIONS).html

    assert '<table class="tourstats wordy" role="table" style="--across:auto minmax(0,10fr) minmax(0,10fr)">' in page
    assert '<tr role="row"><td role="cell" data-head="no." class="number top">1</td>' in page
    assert '<td role="cell" data-head="because" class="none">–</td>' in page  # what is not known


def test_too_many_columns_become_paragraphs_on_a_telephone():
    """
    Each figure then carries its heading.
    """
    page = shown(pd.DataFrame([{"song": "Ferry"} | {f"figures_{at}": 1.5 for at in range(6)}])).html

    assert '<table class="tourstats stacked" role="table">' in page
    assert '<td role="cell" data-head="song" class="top">Ferry</td>' in page
    assert '<td role="cell" data-head="figures 5" class="number">1.5</td>' in page


def test_a_paragraph_without_a_name_has_no_heading():
    """
    A note for a kind of venue is about no song: no two dashes stand for one on a telephone.
    """
    rows = [{"position": at, "song": song} | {f"figures_{k}": 1.5 for k in range(6)} for at, song in
            ((1, "Ferry"), (None, None), (2, None))]  # fmt: skip
    cells = re.findall(r'data-head="(?:no.|song)" class="([^"]+)"', shown(pd.DataFrame(rows)).html)

    assert ["number top", "top", "number none", "none", "number top", "none"] == cells


def test_a_short_word_with_a_hyphen_is_not_broken():
    """
    "show-ready" stays in one line beside a long heading; a long title may be broken at its hyphen.
    """
    page = shown(pd.DataFrame({"song": ["Left-Handed Tango"], "readiness": ["show-ready"]})).html

    assert "<td>Left-Handed Tango</td>" in page
    assert '<td class="whole">show-ready</td>' in page


def test_times_line_up_as_figures_do():
    """
    A plan's rows begin with a time and a title, which head their paragraph on a telephone.
    """
    plan = pd.DataFrame({"at": ["0:05", "1:15"], "song": ["Ferry", None]} | {f"figures_{k}": 1.5 for k in range(6)})
    page = shown(plan).html

    assert '<td role="cell" data-head="at" class="number top">0:05</td>' in page
    assert '<td role="cell" data-head="song" class="top">Ferry</td>' in page
    assert 'class="number top">1:15</td><td role="cell" data-head="song" class="none">' in page
    assert " 0:05  Ferry" in as_text(plan.assign(at=["0:05", "12:15"]))


def test_a_table_that_fits_a_telephone_stays_as_it_is():
    """
    Two columns and a few letters.
    """
    assert '<table class="tourstats"><thead>' in shown(OUT, ["song", "layoff_shows"]).html


def test_thousands_have_a_comma_and_shares_a_sign():
    """
    One way for whole numbers, fractions, and columns of both.
    """
    assert ["1,094", "1,094.5", "38%"] == [cell(1094), cell(1094.5), cell(0.375, "share")]
    assert ["1,094.0", "2.5"] == _column(pd.Series([1094.0, 2.5]), "minutes")


def test_a_notebook_table_is_text_where_there_is_only_text():
    """
    The same table prints in columns, so that comparing a notebook compares its figures.
    """
    assert as_text(OUT) == repr(shown(OUT))


def test_columns_are_chosen_in_order_and_missing_ones_passed_over():
    """
    A chosen column that the table has not is no error.
    """
    assert ["no.  song", "2  Ferry"] == [
        line.strip()
        for line in as_text(
            pd.DataFrame({"song": ["Ferry"], "x": [1], "position": [2]}), ["position", "gear", "song"]
        ).splitlines()
    ]


def test_what_is_cut_off_is_counted():
    """
    Two of three rows, and one more.
    """
    assert "and 1 more" == as_text(OUT, most=2).splitlines()[-1]
    assert "<p>and 1 more</p>" in shown(OUT, most=2).html
    assert "more" not in as_text(OUT, most=3)


def test_an_empty_table_says_so():
    """
    Day one is ordinary.
    """
    assert "No reviews yet." == as_text(OUT.head(0), empty="No reviews yet.")
    assert "<p>No reviews yet.</p>" == shown(OUT.head(0), empty="No reviews yet.").html


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        ([1.0, 2.0], ["1", "2"]),
        ([1.5, 2.0], ["1.5", "2.0"]),
        ([0.125, 12.0, np.nan], ["0.12", "12.00", "–"]),
        ([np.inf, 1.0], ["∞", "1"]),
    ],
)
def test_the_numbers_of_a_column_have_the_same_figures_behind_the_point(numbers, expected):
    """
    So that their points stand under one another.
    """
    assert expected == [line.strip() for line in as_text(pd.DataFrame({"rate": numbers})).splitlines()[-len(numbers) :]]


def test_shares_are_percentages_and_rates_are_not():
    """
    Only columns that are shares by name.
    """
    assert ("38%", "0.38") == (cell(0.375, "chance"), cell(0.375, "rate"))


def test_a_title_does_not_steer_the_terminal():
    """
    An escape sequence is shown without its escape.
    """
    assert "Fer[2Jry" == cell("Fer\x1b[2Jry")


def test_labels_are_words_and_all_different():
    """
    Two columns of one table never get the same heading, and no label is a name for code.
    """
    shared = {"because": "reasons"}  # the same question, asked of two models

    words = [label for name, label in LABELS.items() if name not in shared]
    assert len(set(words)) == len(words)
    assert not [label for label in LABELS.values() if "_" in label]


@given(st.lists(st.text(max_size=12), min_size=1, max_size=4), st.integers(20, 60))
def test_any_text_at_all_stays_on_its_line(titles, width):
    """
    Whatever was typed, a row is a line.
    """
    frame = pd.DataFrame({"song": titles, "plays": range(len(titles))})

    assert len(titles) + 1 == len(as_text(frame, width=width).split("\n"))


def test_the_command_can_print_tables_without_a_notebook():
    """
    Printing loads no IPython and no altair.
    """
    code = "import sys, tourstats.pages.kit.tables_shown; print([m for m in ('IPython', 'altair') if m in sys.modules])"

    assert (
        "[]" == subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    )


def test_a_long_cell_goes_on_below_where_that_is_asked():
    """
    Nothing of a reason is lost in the terminal; every word is there, in order.
    """
    frame = pd.DataFrame({"song": ["Ferry", "Tin Rook"], "reasons": ["out nine days and two shows; never run", "new"]})

    lines = as_text(frame, width=28, wrap=True).splitlines()

    assert ["out nine days and", "two shows; never", "run", "new"] == [line[10:] for line in lines[1:]]
    assert all(len(line) <= 28 for line in lines)


def test_only_a_word_longer_than_a_telephone_may_be_broken():
    """
    A title without a space, after twelve letters; common words and escaped signs stay whole.
    """
    long = shown(pd.DataFrame({"song": ["Donaudampfschifffahrtsgesellschaft"]})).html
    usual = shown(pd.DataFrame({"song": ["The Lamplighter's Daughter & the Unpronounceables"]})).html

    assert "Donaudampfsc<wbr>hifffahrtsgesellschaft" in long
    assert "<wbr>" not in usual


def test_a_long_heading_over_a_figure_does_not_squeeze_the_words_beside_it():
    """
    On a telephone such a table becomes paragraphs; with a short heading its last column goes below.
    """
    row = {"song": "Ferry Across", "heard": "10 to 20%", "shows_ago": 3, "because": "is out longest of all the songs"}
    frame = pd.DataFrame([row])

    assert "wordy" in shown(frame, labels={"shows_ago": "ago"}).html.partition("<table")[2]
    assert "stacked" in shown(frame, labels={"shows_ago": "shows ago on this leg"}).html.partition("<table")[2]


def test_on_a_served_page_the_rest_is_one_press_away(monkeypatch):
    """
    All rows are there, those beyond the first are folded under a button; a saved notebook stays small.
    """
    table = pd.DataFrame({"song": [f"Qx {at}" for at in range(9)]})
    saved = shown(table, most=4).html
    monkeypatch.setenv("TOURSTATS_LIVE_ONLY", "1")
    served = shown(table, most=4).html

    assert (4, 0, 1) == (saved.count("<td"), saved.count("<button"), saved.count("and 5 more"))
    assert (9, 5) == (served.count("<td"), served.count("<tr hidden>"))
    assert "<button type='button' class='tourstats-all'>and 5 more</button>" in served


def test_every_title_on_a_served_page_leads_to_its_song(monkeypatch):
    """
    Whatever table it stands in; a notebook has the plain title, and what was typed stays words.
    """
    frame = pd.DataFrame({"song": ["Ferry & <b>", None], "next_song": ["Tin Wharf", "Ferry"], "city": "Ostby"})
    plain = shown(frame).html
    monkeypatch.setenv(LIVE_ONLY, "1")
    served = shown(frame).html

    assert "href" not in plain
    assert 3 == served.count("href=")
    assert '<a class="tourstats-song" href="/song?song=Ferry+%26+%3Cb%3E">Ferry &amp; &lt;b&gt;</a>' in served
