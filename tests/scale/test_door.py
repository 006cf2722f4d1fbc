"""Where scans come in: the command and the form on the page *Repeat audience*, and what is said of them there."""

import pandas as pd
import pytest

from tourstats import cli
from tourstats.diary import opened
from tourstats.pages.audience import words
from tourstats.pages.audience.form import Forget, Scans
from tourstats.pages.kit import finished
from tourstats.pages.kit.finished import Finished
from tourstats.scale import taking


@pytest.fixture
def own(tmp_path, monkeypatch):
    """A diary of three nights, which is the one that pages show."""
    place = tmp_path / "tour" / "diary.sqlite"
    monkeypatch.setenv("TOURSTATS_DIARY", str(place))
    with opened(place) as book:
        for title in ("Ferry", "Tin Rook", "Salt Road", "Lantern"):
            book.add_song(title)
        for day, titles in ((1, ["Ferry", "Tin Rook"]), (2, ["Tin Rook", "Salt Road"]), (3, ["Lantern", "Ferry"])):
            book.write_set(book.add_show(f"2031-03-0{day}", "Aldmoor", leg="spring"), titles, stage="played")
    return place


@pytest.fixture
def parquet(tmp_path):
    """Forty people, who came on the first night; half of them again; and a night that is no show of the diary."""
    rows = [(f"fan-{n}@example", f"2031-03-0{1 + day}") for n in range(40) for day in range(1 + n % 2)]
    path = tmp_path / "scans.parquet"
    pd.DataFrame([*rows, ("fan-1@example", "2031-04-01")], columns=["ticket", "day"]).to_parquet(path)
    return path


def test_the_command_takes_scans_in_beside_the_diary(own, parquet, capsys):
    """
    It says which columns there are, what was left out, and names nobody; taken in again, nothing is counted twice.
    """
    assert 1 == cli.main(["intake", str(parquet)])
    assert "there is no column person and no show_id. It has ticket, day." in capsys.readouterr().err
    columns = ["--answer", "person=ticket", "--answer", "show=day"]
    for _ in range(2):
        assert 0 == cli.main(["intake", str(parquet), *columns])
        said = capsys.readouterr().out

        assert said.startswith("60 visits of people are kept.\n")
        assert '"2031-04-01": not a show of the diary' in said
        assert "@" not in said
    assert b"@example" not in b"".join(part.read_bytes() for part in taking.beside(own).iterdir())
    with opened(own) as book:
        assert 0 == len(book.attendance())


def test_scans_need_a_diary_with_shows(tmp_path, parquet, capsys):
    """
    Where there is none, a sentence says so, and none begins.
    """
    assert 1 == cli.main(["--diary", str(tmp_path / "dairy.sqlite"), "intake", str(parquet)])
    assert "There is no diary at" in capsys.readouterr().err
    assert [parquet] == [path for path in tmp_path.iterdir() if path.is_file()]


def test_the_page_takes_scans_in_shows_what_they_say_and_forgets(own, parquet, tmp_path, monkeypatch):
    """
    The same as the command, with numbers of people rounded to five; who is forgotten is in the folder no more, and no
    result that was kept stays.
    """
    monkeypatch.setenv(finished.FOLDER, str(tmp_path / "finished"))
    Finished(finished.place()).keep("asked", 60)
    with opened(own) as book:
        tour = book.read()
    form = Scans()
    form.files.value, form.person.value, form.show.value = str(parquet), "ticket", "day"
    before = words.scans_table(tour)
    form.asked.ask()

    assert words.NO_SCANS in before.html
    assert "60 visits of people are kept." in form.asked.answer.value
    assert ["40", "20"] == [cell for cell in ("40", "20") if f">{cell}<" in words.scans_table(tour).html]
    forget = Forget()
    forget.person.value = " Fan-1@example"
    kept = Finished(finished.place()).found("asked")
    forget.asked.ask()
    assert (60, []) == (kept, [*finished.place().iterdir()])
    assert "2 visits" in forget.asked.answer.value
