"""The listening page: choose the recording, see what to hear first, hear it, mark what you find."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as w
import pandas as pd

from tourstats.diary import opened
from tourstats.models.listening import in_minutes
from tourstats.models.song import in_words
from tourstats.pages.kit import links, tables_shown
from tourstats.pages.kit.fields import SEVERITY
from tourstats.pages.kit.finished import forget_results
from tourstats.pages.kit.long_work import LongWork, Step
from tourstats.pages.kit.show_written import Night, named
from tourstats.pages.kit.undoing import undo_button
from tourstats.pages.kit.whose import whose
from tourstats.pages.kit.widgets import (
    Page,
    Said,
    button,
    choice,
    column,
    folded,
    heading,
    kept,
    letters,
    number,
    on_enter,
    row,
    settled,
    spoken,
    text,
    whose_words,
    words,
)
from tourstats.pages.listening import hearing
from tourstats.pages.listening import words as said_of
from tourstats.pages.listening.player import Player
from tourstats.problems import Problem, listed
from tourstats.recording import Bars, Kept, bars_of, clip, place_of, same_place
from tourstats.tables import KINDS
from tourstats.tour import Tour

WORDS = "Run this page to listen to a recording."
AROUND_S = 4.0
"""Seconds before and after a song that its clip has too: starts are found to a second or two."""
LONGEST_S = 900.0


class Listening:
    """The form; `box` is what a notebook shows."""

    def __init__(self, path: str | Path | None = None) -> None:
        self.found = whose(path)
        self.night = Night(self.found)
        self.tour: Tour
        self.now: pd.Series | None = None
        self.bars = Bars((), known=False, sections=())
        self.marked = 0.0
        self.tonight: Kept | None = None
        self.at_earlier: tuple[object, float] | None = None
        self._fields()
        self.player = Player()
        self.player.observe(
            lambda change: settled(lambda: spoken(lambda: self._asked(change["new"]), self.said)), names="asks"
        )
        self.box = column(*self._parts(), name="listening")
        self._fill()
        spoken(lambda: self._asked_for(links.asked("at")), self.said)

    def _fields(self) -> None:
        night = self.night
        asked = links.asked("show")
        offered = night.offered()
        shown = int(asked) if asked.isdigit() and int(asked) in {show for _, show in offered} else night.show_id
        night.read(shown)
        self.said, self.found_said, self.heard_said = Said(), Said(), Said()
        self.glance, self.table, self.first = w.HTML(), w.HTML(), w.HTML()
        self.show = choice("Show", offered, value=night.show_id)
        self.file = text("Recording", placeholder="path of a file or folder; several with ;")
        self.files = choice("Newest in that folder", [("choose one", None)])
        self.newest = w.VBox([self.files])  # fields share one layout, so that a field is not hidden by its own
        self.newest.layout.display = "none"
        self.work = LongWork(self.heard_said)
        self.minutes = number("Minutes I can listen", 40, 1, 600, 5)
        self.song = choice("Hear", [("choose a song", None)])
        self.what = text("What I found", placeholder="M in the player, then what it was")
        self.what.add_class("tourstats-what-found")  # where the player's M goes
        self.kind = letters("Kind", KINDS, value="tempo", ensure_option=False)
        self.severity = choice("Who heard it", SEVERITY)
        self.mark = text("Song and moment", disabled=True)
        self.show.observe(self._another, names="value")
        self.files.observe(self._pick, names="value")
        self.minutes.observe(lambda _: self._fill_first(), names="value")
        self.song.observe(lambda change: spoken(lambda: self._chosen(change["new"]), self.said), names="value")
        on_enter(self.what, self.save, self.found_said)
        on_enter(self.file, self.listen, self.heard_said)
        kept(self.found, "listening", {"what": self.what}, self.found_said)

    def _parts(self) -> list[w.Widget]:
        listen = button("Listen to it", self.listen, self.heard_said, main=True)
        delete = button("Delete what was kept of this recording", self.delete, self.heard_said)
        again = button("Align the rest again", self.listen, self.heard_said)
        toggle, panel = folded("Every song of the set", self.table, row(again, delete))
        return [
            whose_words(self.found), self.glance, self.show,
            heading("The recording"), words(said_of.PEOPLE), self.file, self.newest, row(listen), self.work.box,
            self.heard_said, row(toggle), panel,
            heading("What to hear first"), self.minutes, self.first,
            heading("Hear it"), self.song, self.said, self.player, words(said_of.EARS),
            heading("What I found"), self.mark, self.what, self.kind, self.severity,
            row(button("Save what I found", self.save, self.found_said, main=True),
                button("It worked", self.save_worked, self.found_said),
                undo_button(self.found, self.found_said, self._fill)),
            self.found_said,
        ]  # fmt: skip

    # ------------------------------------------------------------------------ what is shown

    def _pick(self, change: dict[str, Any]) -> None:
        self.file.value = change["new"] or self.file.value

    def _another(self, _: object) -> None:
        self.night.read(self.show.value)
        self.file.value = ""
        for said in (self.said, self.found_said, self.heard_said):
            said.clear()
        self._fill()

    def _fill(self) -> None:
        """Show the diary as it is now."""
        self.tour = self.found.tour()
        self.night.read(self.night.show_id)
        self.glance.value = f"<p>{links.linked(self._glance())}</p>"
        if self.night.row is not None and not self.file.value:
            self.file.value = "; ".join(hearing.files_of(self.night.row))
        if self.night.show_id is not None:
            self.table.value = tables_shown.shown(said_of.table(self.tour, self.night.show_id, self._kept())).html
        self._fill_first()
        self._fill_marks()

    def _glance(self) -> str:
        if self.night.show_id is None or self.night.row is None:
            return "There is no show in the diary yet. Paste the set on the page Show day first."
        return f"{named(self.night.row)}: {said_of.at_a_glance(self.tour, self.night.show_id)}"

    def _fill_first(self) -> None:
        if self.night.show_id is None:
            return
        rest = said_of.first(self.tour, self.night.show_id, kept=self._kept())
        measured = self.tour.measured
        places = measured.loc[measured.show_id == self.night.show_id, ["position", "start_s", "end_s"]]
        chosen = in_minutes(rest.merge(places, on="position"), self.minutes.value)[[*rest]]
        self.first.value = tables_shown.shown(chosen).html if len(chosen) else ""
        value = self.song.value
        options = [(f"{one.position} {one.song}: {one.why}", one.position) for one in rest.itertuples()]
        self.song.options = [("choose a song", None), *options]
        self.song.value = value if value in [position for _, position in options] else None

    def _kept(self) -> pd.DataFrame:
        """What is kept of performances of this show's songs."""
        with opened(self.found.path) as diary:
            return diary.kept(self.tour.plays.song[self.tour.plays.show_id == self.night.show_id].tolist())

    # ------------------------------------------------------------------------ the recording

    def listen(self) -> None:
        """Read the recording and find the songs, beside everything else; nothing is written before the end."""
        files = [part.strip() for part in self.file.value.split(";") if part.strip()]
        if not files:
            raise Problem("Say where the recording is: the path of a file, or of a folder with recordings.")
        if len(files) == 1 and Path(files[0]).expanduser().is_dir():
            self._look_through(files[0])
        show_id = self.night.show
        with self.night.writing():
            pass  # asks, before the work, whether this diary may be written

        def do(step: Step) -> str:
            made = hearing.heard(
                self.found.path, show_id, files, progress=lambda share, doing: step(round(100 * share), 100, doing)
            )
            sure, of = int(made.measured.sure.sum()), len(made.measured)
            return " ".join([f"Saved: {sure} of {of} songs placed for sure.", *made.remarks])

        self.heard_said.observe(self._after_work, names="value")
        try:
            self.work.run(do)
        except Problem:
            self.heard_said.unobserve(self._after_work, names="value")
            raise

    def _look_through(self, folder: str) -> None:
        """Take the files of the show's day out of a folder, for one more press; else offer its newest."""
        newest = hearing.newest(folder)
        self.files.options = [("choose one", None), *((file.name, str(file)) for file in newest)]
        self.newest.layout.display = ""
        found = hearing.of_show(self.tour, self.night.show, [folder])
        self.file.value = "; ".join(map(str, found))
        raise Problem(
            f"That is a folder; of the show's day there {'is' if len(found) == 1 else 'are'} "
            f"{listed([file.name for file in found])}. If that is right press again, else choose below."
        )

    def _after_work(self, _: object) -> None:
        self.heard_said.unobserve(self._after_work, names="value")
        self._fill()

    def delete(self) -> None:
        """Forget everything that was kept of this recording; the file itself is not touched."""
        with self.night.writing() as diary, diary.atomic():
            diary.set_measured(self.night.show, [])
            diary.change_show(self.night.show, recording=None)
        forget_results()
        self.file.value = ""
        self._fill()
        self.heard_said.done("Deleted: figures, curves and the path. The recording itself was not touched.")

    # ------------------------------------------------------------------------ hearing

    def _chosen(self, position: int | None) -> None:
        """Hear a song; nothing where it is in the player already and its line in the choice alone is another."""
        now = self.now
        if position is not None and (now is None or (now.show_id, now.position) != (self.night.show_id, position)):
            self._hear(position)

    def _hear(self, position: int, into: float = 0.0) -> None:
        """Cut a song's clip and hand it to the player, some seconds into the song."""
        self._know(int(position))
        self._play(self._now(), self.tonight, self._title(int(position)), into)

    def _know(self, position: int) -> None:
        """What the diary has of tonight's performance of a song."""
        measured = self.tour.measured
        rows = measured[(measured.show_id == self.night.show_id) & (measured.position == position)]
        self.now, self.at_earlier = rows.iloc[0], None
        self.tonight = hearing.performance(self.found.path, self.night.show, position)

    def _play(self, measured: pd.Series, about: Kept | None, title: str, into: float) -> None:
        show = self.tour.shows[self.tour.shows.show_id == measured.show_id].iloc[0]
        # Where a song may also begin earlier, that is to be heard too.
        begins = max(min([float(measured.start_s), *said_of.also_at(measured.why)]) - AROUND_S, 0.0)
        ends = min(float(measured.end_s) + AROUND_S, begins + LONGEST_S)
        player = self.player
        player.title, player.sound = title, clip(hearing.files_of(show), begins, ends)
        player.seconds, player.clip_from, player.at = ends - begins, begins, float(measured.start_s) - begins + into
        self._draw(measured, about)
        player.clips += 1

    def _draw(self, measured: pd.Series, about: Kept | None) -> None:
        """What is known of the performance in the player, in seconds of its clip."""
        player, song = self.player, self._song(measured)
        shape = self.tour.sections[self.tour.sections.song == song]
        self.bars = bars_of(about, float(measured.end_s - measured.start_s), shape)
        lead = player.lead = float(measured.start_s) - player.clip_from
        player.curve, player.usual = _curve(about, lead), self._usual(song)
        player.sections = [[start + lead, name] for start, name in self.bars.sections]
        player.bars = [start + lead for start in self.bars.seconds]
        self._fill_marks()

    def _usual(self, song: str) -> float:
        """Tempo as it is wanted, for the dashed line."""
        wanted = self.tour.songs.tempo_bpm[self.tour.songs.song == song].dropna()
        return float(wanted.iloc[0]) if len(wanted) else 0.0

    def _song(self, measured: pd.Series) -> str:
        plays = self.tour.plays
        at = (plays.show_id == measured.show_id) & (plays.position == measured.position)
        return str(plays.song[at].iloc[0])

    def _title(self, position: int) -> str:
        labels: dict[int | None, str] = {value: label for label, value in self.song.options}
        return labels.get(position, "")

    def _fill_marks(self) -> None:
        """What was found in this clip already, to be heard again."""
        if self.now is None:
            self.player.marks = []
            return
        show_id = self.now.show_id if self.at_earlier is None else self.at_earlier[0]
        song, length = self._song(self.now), self.player.seconds
        also = [] if self.at_earlier is not None else said_of.also_at(self.now.why)
        marks = [[at - self.player.clip_from, "it may also begin here ([ sets it)"] for at in also]
        for table in (self.tour.mistakes, self.tour.worked):
            for one in table[(table.show_id == show_id) & (table.song == song)].dropna(subset=["at_s"]).itertuples():
                at = float(one.at_s) - self.player.clip_from
                said = [getattr(one, "kind", "worked"), in_words(one.remark, song)]
                if 0 <= at <= length:
                    marks.append([at, ", ".join(str(part) for part in said if isinstance(part, str) and part)])
        self.player.marks = sorted(marks)

    # ------------------------------------------------------------------------ what the player asks

    def _asked_for(self, moment: str) -> None:
        """Go to the moment that another page asked for: three seconds before it."""
        at = said_of.seconds_in(moment)
        if at is None:
            return
        rows = self.tour.measured[self.tour.measured.show_id == self.night.show_id].dropna(subset=["start_s"])
        for one in rows.itertuples():
            if one.start_s - AROUND_S <= at <= one.end_s + AROUND_S:
                self.song.value = one.position
                self.player.at = max(at - self.player.clip_from - 3, 0.0)
                self.player.clips += 1
                return

    def _asked(self, what: dict[str, Any]) -> None:
        if not what or self.now is None:
            return
        does: dict[str, Callable[[float], None]] = {
            "mark": self._mark,
            "next": lambda _: self._step(1),
            "previous": lambda _: self._step(-1),
            "earlier": self._earlier,
            "start": lambda at: self._move(at, first=True),
            "end": lambda at: self._move(at, first=False),
        }
        does[what["what"]](float(what["at"]))

    def _mark(self, at: float) -> None:
        """Begin the line of a finding with song and moment."""
        if self.at_earlier is not None:
            raise Problem("This is the earlier show. Press E to go back to this one, then mark.")
        self.marked = self.player.clip_from + at
        section, bar = self._place(self.marked)
        where = ", ".join(part for part in (section, f"bar {bar}" if bar else None) if part)
        song = self._song(self._now())
        self.mark.value = f"{song} {links.moment(self.marked - float(self._now().start_s))}" + (
            f", {where}" if where else ""
        )
        self.found_said.done("Marked. Say below what it was; Enter saves it.")

    def _now(self) -> pd.Series:
        if self.now is None:
            raise Problem("Choose a song to hear first.")
        return self.now

    def _place(self, seconds: float) -> tuple[str | None, int | None]:
        return place_of(self.bars, seconds - float(self._now().start_s))

    def _step(self, way: int) -> None:
        """The next or previous song of the set that has a place."""
        places = sorted(value for _, value in self.song.options if value is not None)
        at = places.index(int(self._now().position)) + way
        if not 0 <= at < len(places):
            raise Problem("That was the last song." if way > 0 else "This is the first song.")
        self.song.value = places[at]

    def _earlier(self, at: float) -> None:
        """To the same place at the latest earlier show of this song, and back."""
        now = self._now()
        if self.at_earlier is not None:
            self._hear(int(now.position), self.at_earlier[1])
            return
        row_ = hearing.before(self.tour, now.show_id, self._song(now))
        if row_ is None:
            raise Problem("No earlier show has a recording of this song that is still in its place.")
        about = hearing.performance(self.found.path, row_.show_id, int(row_.position))
        into = self.player.clip_from + at - float(now.start_s)
        there = same_place(self.tonight, about, into) if self.tonight and about else into
        show = self.tour.shows[self.tour.shows.show_id == row_.show_id].iloc[0]
        self.at_earlier = (row_.show_id, into)
        self._play(row_, about, f"{self._song(now)} at the earlier show, {named(show)}", there)

    def _move(self, at: float, *, first: bool) -> None:
        """Set a start or end where the clip is now; the song is measured again, the clip in the player stays."""
        if self.at_earlier is not None:
            raise Problem("This is the earlier show. Press E to go back to this one first.")
        now, here = self._now(), self.player.clip_from + at
        start, end = (here, float(now.end_s)) if first else (float(now.start_s), here)
        with self.night.writing():
            pass  # as in `listen`
        said = f"{'Start' if first else 'End'} set to {links.moment(here)}"
        self.said.done(f"{said}; the song is measured again.")  # seen before that is done
        hearing.moved(self.found.path, self.night.show, int(now.position), start, end)
        self._fill()
        self._know(int(now.position))
        self._draw(self._now(), self.tonight)
        self.said.done(f"{said}, and the song measured again. It stays there when the rest is aligned again.")

    # ------------------------------------------------------------------------ what was found

    def save(self) -> None:
        """Save a finding at the marked moment."""
        section, bar = self._marked()
        kind = self.kind.value.strip()
        if not kind:
            raise Problem("Say what kind of mistake it was, or pick other.")
        with self.night.writing() as diary:
            diary.add_mistake(
                self.night.show, self._song(self._now()), kind, self.severity.value, section=section, bar=bar,
                remark=self.what.value.strip() or None, at_s=round(self.marked, 1),
            )  # fmt: skip
        self._saved(kind)

    def save_worked(self) -> None:
        """Save that something worked at the marked moment."""
        section, bar = self._marked()
        with self.night.writing() as diary:
            diary.add_worked(
                self.night.show, self._song(self._now()), self.what.value.strip() or None,
                section=section, bar=bar, at_s=round(self.marked, 1),
            )  # fmt: skip
        self._saved("it worked")

    def _marked(self) -> tuple[str | None, int | None]:
        if not self.mark.value:
            raise Problem("Press M in the player at the moment that you mean, then save.")
        return self._place(self.marked)

    def _saved(self, what: str) -> None:
        where = self.mark.value
        self.what.value = self.mark.value = ""
        self._fill()
        self.found_said.done(f"Saved: {where}, {what}. It can be heard again below the tempo curve.")


def _curve(about: Kept | None, lead: float) -> list[list[float]]:
    """The tempo curve in the clip's own seconds."""
    if about is None:
        return []
    return [[lead + about.curve_from_s + 2.0 * at, round(float(bpm), 2)] for at, bpm in enumerate(about.curve)]


def form(path: str | Path | None = None) -> Page:
    """The form for listening, for a notebook."""
    made = Listening(path)
    return Page(made.box, WORDS, lambda: whose_words(made.found).value + made.glance.value)
