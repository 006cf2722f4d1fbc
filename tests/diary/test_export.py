"""Out to a spreadsheet and back, whatever the titles look like."""

import csv

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.diary.reads import assert_same
from tourstats.diary import DiaryProblem, export, import_tables, opened
from tourstats.diary.export import GUARDED, TABLES, guarded, unguarded
from tourstats.diary.store.values import folded
from tourstats.problems import Problem, TableProblem


def there_and_back(diary, folder):
    """Export a diary and read it into a new one."""
    export(folder, diary)
    with opened(folder / "again.sqlite") as other:
        import_tables(folder, other)
        assert_same(diary.read(), other.read())
        pd.testing.assert_frame_equal(diary.pasted(), other.pasted())
        return other.undoable()


def test_a_diary_comes_back_equal(book, fill, tmp_path):
    """
    Every table, numbers of shows and notes included, is the same after export and import, which is one change.
    """
    first, _ = fill(book)
    book.remove_show(book.add_show("2030-01-01", "Lowquern"))
    book.add_show("2031-03-01", "Fennick", venue="The Old Mill")
    book.add_mistake(first, "Ferry", None, 3, bar=2**40 // 2**10)
    book.remove_mistake(1)

    assert f"the tables of {(tmp_path / 'out').name}" == there_and_back(book, tmp_path / "out")


def test_an_empty_diary_comes_back_empty(book, tmp_path):
    """
    Files with only a first line are read too.
    """
    files = export(tmp_path / "out", book)

    assert [f"{name}.csv" for name in TABLES] == [file.name for file in files]
    assert there_and_back(book, tmp_path / "out") is None


odd = st.one_of(
    st.text(min_size=1, max_size=12),
    st.builds(
        "".join, st.lists(st.sampled_from([*GUARDED, "1", "a", " ", ",", '"', ";", "\n", "é", "日"]), min_size=1)
    ),
)


@settings(max_examples=25)
@given(
    titles=st.lists(odd, min_size=1, max_size=4, unique_by=folded), words=odd, pasted=odd, minutes=st.floats(0.01, 120)
)
def test_any_titles_at_all_come_back(tmp_path_factory, titles, words, pasted, minutes):
    """
    Formulas, guards, line ends, quotes, any script: what the diary holds is what comes back.
    """
    folder = tmp_path_factory.mktemp("odd")
    titles = [title for title in titles if folded(title)]
    with opened(folder / "diary.sqlite") as book:
        with book.atomic():
            show_id = book.add_show("2031-03-04", words, leg=words)
            for title in titles:
                book.add_song(title, minutes=minutes, watch=words)
            book.write_set(show_id, titles, pasted=pasted)
            for title in titles:
                book.add_mistake(show_id, title, words, 1, remark=words)
        words = there_and_back(book, folder / "out")

    assert "the tables of out" == words


@given(odd)
def test_the_guard_is_taken_off_exactly(text):
    """
    No text starts like a formula once guarded, and none is changed by going there and back.
    """
    cell = guarded(text)

    assert text == unguarded(cell)
    assert not cell.startswith(tuple(set(GUARDED) - {"'"}))


def test_no_cell_is_a_formula(book, tmp_path):
    """
    Every cell of every file, as a spreadsheet would read it.
    """
    for title in ("=1+1", "+49", "-", "@here", "\uff1d1", "'Tis Late"):
        book.add_song(title, watch=title)
    book.add_show("2031-03-04", "=Town", venue="@Hall")
    book.write_set(1, ["=1+1"], pasted="\t=cmd()")
    for file in export(tmp_path / "out", book):
        with file.open(encoding="utf-8-sig", newline="") as rows:
            for cell in (cell for row in csv.reader(rows) for cell in row):
                assert not cell.startswith(tuple(set(GUARDED) - {"'"})), (file.name, cell)
    assert (tmp_path / "out" / "songs.csv").read_bytes().startswith(b"\xef\xbb\xbf")


def test_people_are_exported_as_hashes(book, fill, tmp_path):
    """
    Neither who they are nor the key is in any file.
    """
    first, _ = fill(book)
    book.add_attendance(pd.DataFrame({"person": ["Ticket-7731"], "show_id": [first]}))
    text = "".join(file.read_text(encoding="utf-8-sig") for file in export(tmp_path / "out", book))

    assert "Ticket-7731" not in text
    assert (tmp_path / "own" / "people.key").read_bytes().hex() not in text
    assert book.attendance().person[0] in text


@pytest.mark.parametrize(
    ("table", "old", "new", "sentence"),
    [
        (
            "plays", "Tin Rook", "Tin Rok",
            ('Row 3 of plays: "Tin Rok" is not in the repertoire. The nearest in the repertoire: "Tin Rook". Correct '
            "the title, add it as another name of a song, or add it as a new song."),
        ),
        (
            "mistakes", ",2,playing", ",7,playing",
            "Row 2 of mistakes: The `severity` of a mistake cannot be '7'; it has to be one of 1, 2, 3.",
        ),
        (
            "songs", "aliases", "nicknames",
            ('Row 2 of songs: A song has no "nicknames". It has: song, aliases, status, since, new_release, tempo_bpm, '
            "minutes, starts_by, count_in, speech, gear, samples, track, track_by, track_fails, readiness, watch, "
            "reference, reference_now."),
        ),
        (
            "levels", "2,new kit", "9,new kit",
            ("Row 2 of levels: There is no show 9 in the diary. Add it first, or look at the list of shows for its "
            "number."),
        ),
    ],
)  # fmt: skip
def test_a_wrong_cell_is_named_and_nothing_is_read(book, fill, tmp_path, table, old, new, sentence):
    """
    File, row, value and what to do; the diary stays empty.
    """
    fill(book)
    export(tmp_path / "out", book)
    file = tmp_path / "out" / f"{table}.csv"
    text = file.read_text(encoding="utf-8-sig")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8-sig")
    with opened(tmp_path / "again.sqlite") as other:
        with pytest.raises(TableProblem) as caught:
            import_tables(tmp_path / "out", other)

        assert sentence == str(caught.value)
        assert 0 == len(other.songs())


def test_tables_go_into_a_new_diary_only(book, fill, tmp_path):
    """
    Nothing that is there is mixed with what comes in.
    """
    fill(book)
    export(tmp_path / "out", book)

    with pytest.raises(Problem, match="is not empty: it has songs"):
        import_tables(tmp_path / "out", book)
    with pytest.raises(DiaryProblem, match="There are no tables in"):
        import_tables(tmp_path, book)


def test_a_file_in_another_encoding_is_named(book, tmp_path):
    """
    A file that was saved again in an old encoding is not read as something else.
    """
    (tmp_path / "songs.csv").write_bytes("song\nCaf\u00e9\n".encode("cp1252"))

    with pytest.raises(DiaryProblem, match=r"songs.csv cannot be read as a table .* Save it as CSV in UTF-8"):
        import_tables(tmp_path, book)


def test_a_folder_that_cannot_be_written(book, tmp_path):
    """
    A file in the place of the folder is a sentence.
    """
    (tmp_path / "out").write_text("in the way", encoding="utf-8")

    with pytest.raises(DiaryProblem, match=r"cannot be written .* Name another one"):
        export(tmp_path / "out", book)
