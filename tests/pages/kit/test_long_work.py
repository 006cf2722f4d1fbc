"""Work that takes a while can be seen and stopped, and leaves nothing half-written."""

import asyncio
import re
import threading
import time

import ipywidgets as w
import pytest
from jupyter_client.manager import start_new_kernel

from tourstats.diary import opened
from tourstats.pages.corrections import leaving
from tourstats.pages.kit.long_work import LongWork
from tourstats.pages.kit.whole_files import write_whole
from tourstats.pages.kit.widgets import Said, on_enter


@pytest.fixture
def diary():
    """Three shows of one leg."""
    with opened() as book:
        for song in ("Ferry", "Tin Rook"):
            book.add_song(song)
        for day in (13, 14, 15):
            show = book.add_show(f"2031-03-{day}", "Ostby", leg="Spring")
            book.write_set(show, ["Ferry", "Tin Rook"], stage="played")
        yield book


def words(said):
    """What was said last."""
    return re.sub(r"<[^>]+>", "", said.value)


def pressed_after(form, steps):
    """Press Stop once the bar has come so far."""

    def look(change):
        if change["new"] == steps:
            form.work.stop_button.click()

    form.work.bar.observe(look, names="value")


@pytest.mark.parametrize("make", ["sheets", "review"])
def test_stopped_work_leaves_nothing_behind(diary, tmp_path, make):
    """
    Stop after two steps: what was stopped is said, the folder is as it was, and the bar is gone.
    """
    form = leaving.Leaving()
    form.folder.value = str(tmp_path / "out")
    pressed_after(form, 2)
    getattr(form, make)()

    assert re.fullmatch(r"Stopped after 2 of \d+\. Nothing was written\.", words(form.said)), form.said.value
    assert not (tmp_path / "out").exists()
    assert "none" == form.work.box.layout.display


def test_it_can_be_begun_again_after_stop(diary, tmp_path):
    """
    Stop holds for the work that it stopped, and for no other.
    """
    form = leaving.Leaving()
    form.folder.value = str(tmp_path / "out")
    pressed_after(form, 2)
    form.sheets()
    form.work.bar.unobserve_all()
    form.sheets()

    assert "The sheets of 3 shows are in" in words(form.said)
    assert ["stage-sheets-spring.pdf"] == [path.name for path in (tmp_path / "out").iterdir()]


def test_only_one_thing_is_made_at_a_time():
    """
    A second press while something runs begins nothing.
    """
    said = Said()
    work = LongWork(said)
    begun = []

    def make(_):
        begun.append(1)
        if len(begun) == 1:
            with pytest.raises(Exception, match="Something is being made already"):
                work.run(make)
        return "Made."

    work.run(make)

    assert ([1], "Made.") == (begun, words(said))


def test_a_file_is_whole_or_as_it_was(tmp_path, monkeypatch):
    """
    Where the new one cannot be finished, the old one stays and nothing is left beside it.
    """
    file = tmp_path / "sheet.pdf"
    write_whole(file, b"before")

    def full(path, _):
        path.touch()
        raise OSError("No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(file, b"after")

    assert (b"before", [file]) == (file.read_bytes(), list(tmp_path.iterdir()))


IN_A_KERNEL = """
import time
from tourstats.pages.kit.widgets import Said
from tourstats.pages.kit.long_work import LongWork
said = Said()
work = LongWork(said)
def make(step):
    for at in range(600):
        step(at, 600)
        time.sleep(0.05)
    return "Made."
work.run(make)
"""


def test_a_kernel_goes_on_answering_and_stop_works_meanwhile():
    """
    In a real kernel half a minute's work is begun, answers a question meanwhile, and stops when Stop is pressed.
    """
    manager, client = start_new_kernel()
    heard = []

    def ask(code):
        client.execute_interactive(
            code,
            timeout=60,
            output_hook=lambda message: heard.append(message["content"].get("text", "")),
            store_history=False,
        )
        return "".join(heard)

    try:
        ask(IN_A_KERNEL)
        began = time.monotonic()
        ask("print('runs:', work.box.layout.display == '', end=';')")
        ask("work.stop_button.click()")
        while "Stopped after" not in ask("print(said.value)") and time.monotonic() - began < 20:  # s
            time.sleep(0.1)
        took = time.monotonic() - began
        said = ask("print(work.box.layout.display)")
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)

    assert "runs: True" in said
    assert re.search(r"Stopped after \d+ of 600\. Nothing was written\.", said), said
    assert said.rstrip().endswith("none")
    assert took < 10  # the whole work takes thirty seconds


def beside(do):
    """What a thread with a loop of its own has in its list after `do`, which is how JupyterLab has forms heard."""
    seen = []

    async def heard():
        told = asyncio.Event()

        def tell():
            seen.append(threading.current_thread() is here)
            told.set()

        do(tell)
        await told.wait()

    here = threading.Thread(target=lambda: asyncio.run(asyncio.wait_for(heard(), timeout=10)), daemon=True)
    here.start()
    here.join()
    return seen


def test_enter_is_answered_in_the_thread_that_heard_it():
    """
    JupyterLab has forms heard beside the kernel's main thread. An answer left to that one's sleeping loop may never
    come, and would meet half-heard letters.
    """

    def press(tell):
        field = w.Text()
        on_enter(field, tell, Said())
        field._handle_custom_msg({"event": "submit"}, [])

    assert [True] == beside(press)


def test_long_work_is_shown_in_the_thread_that_began_it():
    """
    What is made runs elsewhere; its end is told where the button was heard.
    """

    class Told(Said):
        def done(self, _):
            self.tell()

    def press(tell):
        said = Told()
        said.tell = tell
        LongWork(said).run(lambda _: "Made.")

    assert [True] == beside(press)
