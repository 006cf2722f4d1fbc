"""The few commands: what a musician types, at 16:00 or at the hotel. Each one imports what it needs itself."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from tourstats.problems import Problem

if TYPE_CHECKING:
    import pandas as pd

    from tourstats.diary import Diary


class CommandProblem(Problem):
    """Something about the command itself."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; a problem is one sentence on standard error, and status 1."""
    asked = _parser().parse_args(argv)
    run: Callable[[argparse.Namespace], None] = asked.run
    try:
        run(asked)
    except Problem as problem:
        print(f"tourstats: {problem}", file=sys.stderr)
        return 1
    except BrokenPipeError:  # `tourstats tonight | head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="tourstats", description="Keep ready for a set that changes every show.")
    parser.add_argument("--diary", metavar="PATH", help='the diary to use; "demo" is the demo tour (default: your own)')
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    add = _adder(commands)

    tonight = add("tonight", _tonight, "the show day: what changed, what needs care, the plan, and the stage sheet")
    tonight.add_argument(
        "set", nargs="?", metavar="SET", help="a text file with the set, or - to paste it; without: as planned"
    )
    tonight.add_argument("--minutes", type=float, default=110.0, help="time before doors (default: %(default).0f)")
    tonight.add_argument(
        "--song",
        action="append",
        default=[],
        metavar='N="TITLE"',
        help="settle song N of the set: a title, new, or skip",
    )
    tonight.add_argument(
        "--show", type=int, metavar="N", help="number of the show in the diary (default: the next one)"
    )
    tonight.add_argument("--date", type=_day, help="day of the show, as 2031-03-04 (default: today)")
    tonight.add_argument("--city", help="town, for a show that is not in the diary yet")
    tonight.add_argument("--venue", help="place, for a show that is not in the diary yet")
    tonight.add_argument("--room", help="kind of room: theatre, arena, club, festival, studio, other")
    tonight.add_argument("--paper", default="A4", choices=("A4", "Letter"))
    tonight.add_argument(
        "--sheets", default="sheets", type=Path, metavar="FOLDER", help="where the sheet goes (default: sheets)"
    )
    tonight.add_argument(
        "--level", type=float, default=97.0, metavar="DBA", help="level on stage, for the reminder on hearing"
    )

    likely = add("likely", _likely, "the songs most likely to come in next, with chances and reasons")
    likely.add_argument(
        "--run", dest="most", type=int, default=10, metavar="N", help="how many to list (default: %(default)s)"
    )
    likely.add_argument(
        "--known", action="append", default=[], metavar="TITLE", help="a song known to be in; -TITLE: known to be out"
    )

    intake = add("intake", _intake, "read songs or months of sets from CSV, XLSX or text, or an exported folder")
    intake.add_argument("files", nargs="+", type=Path, metavar="FILE")
    intake.add_argument(
        "--answer", action="append", default=[], metavar='KEY="ANSWER"', help="settle a question that was listed"
    )

    export = add("export", _export, "write every table as CSV")
    export.add_argument("folder", type=Path, metavar="FOLDER")

    backup = add("backup", _backup, "copy the diary now")
    backup.add_argument("to", nargs="?", type=Path, metavar="FILE")

    restore = add("restore", _restore, "put a copy in the place of the diary; without FILE, list the copies")
    restore.add_argument("copy", nargs="?", type=Path, metavar="FILE")

    add("check", _check, "look whether the diary is whole")

    workbook = add("workbook", _workbook, "open the notebooks in JupyterLab")
    workbook.add_argument("--no-browser", action="store_true", help="print the address instead of opening it")
    workbook.add_argument("--page", metavar="NAME", help="serve one notebook as a page, such as show-day or start")
    workbook.add_argument("--address", help="where the page listens (default: this machine only)")
    workbook.add_argument("--theme", choices=("light", "dark"), help="how the page looks (default: light)")
    return parser


def _adder(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> Callable[..., argparse.ArgumentParser]:
    def add(name: str, run: Callable[[argparse.Namespace], None], words: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=words, description=words)
        made.set_defaults(run=run)
        return made

    return add


def _day(text: str) -> date:
    return date.fromisoformat(text)


def _tonight(asked: argparse.Namespace) -> None:
    from tourstats.diary import opened
    from tourstats.models import tonight
    from tourstats.pages import sheet, show_day, workbook

    found = workbook.whose(asked.diary, writing=asked.set is not None)
    with opened(found.path) as diary:
        show_id = _write_tonights_set(diary, asked) if asked.set else asked.show
        tables = diary.read()
    show_id = tonight.next_show(tables) if show_id is None else show_id
    if show_id is None:
        raise CommandProblem("No show lies ahead in the diary. Give the set: `tourstats tonight SET.txt --city TOWN`.")
    brief = tonight.brief(tables, show_id, minutes=asked.minutes)
    if found.demo:
        print(workbook.DEMO_WORDS.replace("*", ""), end="\n\n")
    print(show_day.as_text(brief, level_dba=asked.level))
    made = sheet.stage_sheet(brief, asked.sheets, paper=asked.paper)
    print(f"The stage sheet: {made.pdf} and {made.html}", *made.left_out, sep="\n")
    print("The workbook opens with: tourstats workbook")


def _write_tonights_set(diary: Diary, asked: argparse.Namespace) -> int:
    """Read the pasted set, settle what is open, write it; saving comes before thinking."""
    from tourstats.diary import read_set
    from tourstats.diary.history import NEW
    from tourstats.diary.intake import settled

    text = sys.stdin.read() if asked.set == "-" else _text(Path(asked.set))
    lines = read_set(text, diary.songs())
    answers = _positions(_answers(asked.song))
    if not len(diary.songs()):
        # With an empty repertoire there is nothing to mistake a title for: every song is new.
        answers = dict.fromkeys(lines.position, NEW) | answers
    ready = settled(lines, _asked(lines, answers))
    with diary.atomic():
        show_id = _show_of(diary, asked)
        for song in set(ready.new) - set(diary.songs().song):  # the same command typed twice
            diary.add_song(song)
        diary.write_set(show_id, ready.titles, stage="planned", encore_from=ready.encore_from, pasted=text)
    return show_id


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise CommandProblem(
            f"There is no file {path}. Give the name of a text file with the set, or - to paste it."
        ) from error
    except UnicodeDecodeError:
        return path.read_text(encoding="cp1252")


def _answers(given: Sequence[str]) -> dict[str, str]:
    """Read KEY=ANSWER pairs."""
    pairs = [text.partition("=") for text in given]
    wrong = [key for key, sign, answer in pairs if not sign or not answer.strip()]
    if wrong:
        raise CommandProblem(
            f'"{wrong[0]}" settles nothing. Write what it settles and the answer, as in 7="Copper Wire".'
        )
    return {key.strip(): answer.strip().strip('"') for key, _, answer in pairs}


def _positions(answers: Mapping[str, str]) -> dict[int, str]:
    wrong = [key for key in answers if not key.isdigit()]
    if wrong:
        raise CommandProblem(
            f'"{wrong[0]}" is no place in the set. Write the place and its title, as in 7="Copper Wire".'
        )
    return {int(key): answer for key, answer in answers.items()}


def _asked(lines: pd.DataFrame, answers: Mapping[int, str]) -> dict[int, str]:
    """Ask about each line that is open, if there is somebody at the keyboard."""
    answers = dict(answers)
    if not sys.stdin.isatty():
        return answers
    for row in lines[~lines.sure].itertuples():
        if row.position in answers:
            continue
        print(f'Song {row.position}: "{row.as_typed}"')
        for number, title in enumerate(row.candidates, start=1):
            print(f"  {number}  {title}")
        said = input("  number, title, n for a new song, s to skip: ").strip()
        answers[int(row.position)] = _meant(said, row.candidates)
    return answers


def _meant(said: str, candidates: Sequence[str]) -> str:
    from tourstats.diary.history import NEW, SKIP

    if said.isdigit() and 1 <= int(said) <= len(candidates):
        return candidates[int(said) - 1]
    return {"n": NEW, "s": SKIP}.get(said, said)


def _show_of(diary: Diary, asked: argparse.Namespace) -> int:
    """The show that the set is for: the one named, one of that day, the next, or a new one."""
    if asked.show is not None:
        return int(asked.show)
    from tourstats.models.tonight import next_show

    tables = diary.read()
    day = asked.date or date.today()  # noqa: DTZ011  # the day on the wall
    that_day = tables.shows[(tables.shows.date.dt.date == day) & ~tables.shows.show_id.isin(tables.plays.show_id)]
    if len(that_day):
        return int(that_day.show_id.iloc[0])
    ahead = next_show(tables)
    named = asked.date is not None or asked.city
    if ahead is not None and not named and tables.shows.date[tables.shows.show_id == ahead].iloc[0].date() >= day:
        return int(str(ahead))
    if not asked.city:
        raise CommandProblem(
            "This show is not in the diary yet. Say where it is: --city TOWN, and --venue, --room if you like."
        )
    return int(diary.add_show(day, asked.city, room=asked.room, venue=asked.venue))


def _likely(asked: argparse.Namespace) -> None:
    from tourstats.diary import opened
    from tourstats.pages import likely, workbook

    found = workbook.whose(asked.diary)
    with opened(found.path) as diary:
        tables = diary.read()
    if found.demo:
        print(workbook.DEMO_WORDS.replace("*", ""), end="\n\n")
    known = {title.removeprefix("-"): not title.startswith("-") for title in asked.known}
    print(likely.as_text(tables, run=asked.most, known=known))


def _intake(asked: argparse.Namespace) -> None:
    from tourstats.diary import import_tables, opened
    from tourstats.diary.intake import intake
    from tourstats.pages import workbook

    answers = _answers(asked.answer)
    with opened(workbook.whose(asked.diary, writing=True).path) as diary, diary.atomic():
        for path in asked.files:
            if path.is_dir():
                import_tables(path, diary)
                print(f"{path.name}: read back.")
                continue
            added = intake(diary, path, answers=answers)
            print(
                f"{path.name}: " + ", ".join(f"{count} {what}" for what, count in added.items() if count)
                or "nothing new"
            )


def _export(asked: argparse.Namespace) -> None:
    from tourstats import diary
    from tourstats.pages import workbook

    diary.export(asked.folder, workbook.whose(asked.diary).path)
    print(f"Every table is in {asked.folder}.")


def _backup(asked: argparse.Namespace) -> None:
    from tourstats import diary

    print(f"Copied to {diary.backup(asked.diary, asked.to)}.")


def _restore(asked: argparse.Namespace) -> None:
    from tourstats import diary

    if asked.copy is None:
        print("\n".join(map(str, diary.copies(asked.diary))) or "There is no copy yet.")
        return
    aside = diary.restore(asked.copy, asked.diary)
    print(f"{asked.copy} is the diary now." + (f" What was there is kept as {aside}." if aside else ""))


def _check(asked: argparse.Namespace) -> None:
    from tourstats import diary

    troubles = diary.check(asked.diary)
    if troubles:
        raise CommandProblem(" ".join(troubles))
    print(f"{diary.where(asked.diary)} is whole.")


def _workbook(asked: argparse.Namespace) -> None:
    from tourstats.pages import served, workbook

    if asked.page is None:
        if asked.address or asked.theme:
            raise CommandProblem("--address and --theme are for one page: say which, as in --page show-day.")
        workbook.run(asked.diary, browser=not asked.no_browser)
        return
    address, theme = asked.address or served.HERE, asked.theme or "light"
    served.serve(asked.page, asked.diary, address=address, theme=theme, browser=not asked.no_browser)


if __name__ == "__main__":
    sys.exit(main())
