"""The account: one row a piece, every piece one of the words, said in a few lines."""

import pytest

from tourstats.problems import TableProblem
from tourstats.reading.account import COLUMNS, TAKEN_AS, Piece, account_of, said


def test_a_piece_is_one_of_the_words():
    """
    What a piece may be taken for comes from one constant, and the message names all of it.
    """
    with pytest.raises(TableProblem) as caught:
        Piece(7, 1, "Ferry", "tune")

    assert all(word in str(caught.value) for word in TAKEN_AS)
    assert "Row 7 of the table of account: `taken_as` is 'tune'" in str(caught.value)


def test_an_account_of_nothing_has_its_columns():
    """
    An empty text is read too.
    """
    assert (list(COLUMNS), 0) == (list(account_of([]).columns), len(account_of([])))
    assert ["0 places, 0 songs"] == said(account_of([]))


def test_what_is_not_taken_is_said_with_its_words_and_where_it_stands():
    """
    Counts for what is understood; the words themselves for what is struck out, left out or not understood.
    """
    pieces = [Piece(row, 1, "Ferry", "song", "Ferry") for row in range(1, 10)]
    pieces += [Piece(row, 1, "20", "total") for row in (12, 24, 36, 48)]
    pieces += [Piece(50, 1, "Tin Lid", "struck out"), Piece(51, 1, "Wren", "song", sure=False)]

    assert [
        "10 places, 1 song, 1 not settled, 3 shows",
        "4 totals (rows 12, 24, 36, …)",
        '1 struck out (row 50): "Tin Lid"',
    ] == said(account_of(pieces), shows=3)
