"""The workbook as a command: it says where the show day is, ends whole, and never writes into the demo tour."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tourstats import demo
from tourstats.diary import DiaryProblem, opened
from tourstats.pages import workbook
from tourstats.pages.corrections.form import PutRight
from tourstats.pages.show_day.form import ShowDay
from tourstats.pages.start.form import Start
from tourstats.pages.workbook.server import stop, stopped_when_asked

PATIENCE_S = 60


@pytest.fixture
def by_name(monkeypatch):
    """The demo tour, asked for by its name as the environment of a page has it."""
    monkeypatch.setenv("TOURSTATS_DIARY", "demo")
    for name, value in workbook.for_pages(None).items():
        monkeypatch.setenv(name, value)


def everything(path):
    """All that a diary holds, as text."""
    with opened(path) as diary:
        tables = diary.read()
        return [tables.songs.to_csv(), tables.shows.to_csv(), tables.planned.to_csv(), diary.undoable()]


def test_what_is_tried_on_the_demo_goes_into_one_copy_for_all_pages(by_name):
    """
    A set that one page saves is there on the next page, and the demo tour is as it was.
    """
    before = everything(demo.path())
    page = ShowDay()
    with opened(page.found.path) as diary:
        titles = diary.plays().tail(20).song
    page.pasted.value = "\n".join(titles[::-1])
    page.prepare()
    other = PutRight().found

    assert before == everything(demo.path())
    assert before != everything(page.found.path)
    assert page.found == other == Start().found
    assert demo.path() != other.path


def test_each_page_says_once_what_becomes_of_what_is_tried(by_name):
    """
    In the words that the notebooks and the forms share; who did not ask by name is told where one's own begins.
    """
    named, shown = workbook.whose(), workbook.Whose(demo.path(), demo=True)

    assert workbook.COPY_WORDS == named.words
    assert "goes into a copy, which is gone when the workbook is closed" in named.words
    assert workbook.DEMO_WORDS == shown.words
    assert "" == workbook.Whose(Path("own.sqlite"), demo=False).words


def test_a_page_gets_the_diary_that_was_asked_for(tmp_path, monkeypatch):
    """
    By its whole path, since a page runs in a folder of its own; without a word, as the environment says. None is begun.
    """
    monkeypatch.chdir(tmp_path)
    with pytest.raises(DiaryProblem, match=r"There is no diary at tour\.sqlite\. Look at the name behind"):
        workbook.for_pages("tour.sqlite")
    with opened("tour.sqlite"):
        pass

    assert {"TOURSTATS_DIARY": str(tmp_path / "tour.sqlite")} == workbook.for_pages("tour.sqlite")
    assert {} == workbook.for_pages(None)
    assert ["TOURSTATS_DEMO_COPY", "TOURSTATS_DIARY"] == sorted(workbook.for_pages("demo"))


def test_the_copy_goes_when_the_program_ends():
    """
    Nothing is left on the disk.
    """
    code = "from tourstats.pages import workbook; print(workbook.whose('demo').path)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    place = Path(out.stdout.strip())

    assert "demo.sqlite" == place.name
    assert not place.parent.exists()


def is_there(group):
    """Whether any program of a group is still running."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def answers(address):
    """Whether something listens there."""
    host, port = re.match(r"http://([\d.]+):(\d+)", address).groups()
    try:
        socket.create_connection((host, int(port)), timeout=5).close()
    except OSError:
        return False
    return True


@pytest.mark.parametrize(
    ("words", "address"),
    [
        (["lab", "--no-browser"], r"http://127\.0\.0\.1:\d+/lab/tree/01-show-day\.ipynb\?token=\w+"),
        (["workbook", "--no-browser"], r"The pages are at http://127\.0\.0\.1:\d+/today\?token=\S+"),
    ],
)
def test_the_command_says_where_the_page_is_and_takes_its_server_along(words, address, tmp_path):
    """
    The address opens the show day or the page; when the command is asked to end, its server ends too.
    """
    names = [f"JUPYTER_{name}_DIR" for name in ("DATA", "CONFIG", "RUNTIME")]
    settings = os.environ | {name: str(tmp_path / name.lower()) for name in names}
    log, said = tmp_path / "said.txt", None
    with log.open("w") as out, subprocess.Popen(
        [sys.executable, "-m", "tourstats.cli", *words], stdout=out, stderr=out, env=settings, start_new_session=True
    ) as command:  # fmt: skip
        try:
            until = time.monotonic() + PATIENCE_S
            while not said and time.monotonic() < until:
                time.sleep(0.1)
                said = re.search(address, log.read_text(encoding="utf-8"))
            served = said is not None and answers(re.search(r"http:\S+", said.group()).group())
            command.send_signal(signal.SIGTERM)
            command.wait(PATIENCE_S)
            # What was forked for the pages sees a moment later that nobody needs it.
            until = time.monotonic() + PATIENCE_S
            while is_there(command.pid) and time.monotonic() < until:
                time.sleep(0.1)
            left = is_there(command.pid)
        finally:
            if is_there(command.pid):
                os.killpg(command.pid, signal.SIGKILL)
            stop(command)

    assert said
    assert served
    assert not left
    assert not answers(re.search(r"http:\S+", said.group()).group())
    assert "Traceback" not in log.read_text(encoding="utf-8")


def test_a_block_is_left_as_by_ctrl_c_when_the_command_is_asked_to_end():
    """
    What has to be put away is put away, and afterwards the signal does what it did before.
    """
    done, before = [], signal.getsignal(signal.SIGTERM)
    with stopped_when_asked():
        try:
            os.kill(os.getpid(), signal.SIGTERM)
            time.sleep(PATIENCE_S)
        finally:
            done.append("put away")
    after = signal.getsignal(signal.SIGTERM)

    assert ["put away"] == done
    assert before == after
