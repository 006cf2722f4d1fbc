"""The few commands: what a musician types, at 16:00 or at the hotel. Each one imports what it needs itself."""

from __future__ import annotations

import argparse
import os
import shlex
import sys
import textwrap
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from tourstats.problems import Problem, UnknownSongProblem, counted, there_are

if TYPE_CHECKING:
    import pandas as pd

    from tourstats.diary import Diary
    from tourstats.models.tonight import Brief
    from tourstats.pages.workbook import Whose
    from tourstats.reading.settling import OpenLinesProblem
    from tourstats.tour import Tour


FOR = ("band", "technician", "director", "doors")
"""Whom a list of tonight is for."""
WIDTH = 100
"""Columns of a line that is printed."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; a problem is one sentence on standard error, and status 1.

    Examples
    --------
    >>> main(["--diary", "nowhere.sqlite", "check"])  # the sentence goes to standard error
    1

    """
    asked = _parser().parse_args(argv)
    run: Callable[[argparse.Namespace], None] = asked.run
    try:
        run(asked)
        _say()
    except Problem as problem:
        print(_plain(f"tourstats: {problem}"), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\ntourstats: stopped.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        _nobody_reads()
    return 0


def _say(*lines: str) -> None:
    """Print lines, and see that they are printed; what was written stays, also where nobody reads on."""
    try:
        print(*lines, sep="\n", end="\n" * bool(lines), flush=True)
    except BrokenPipeError:  # `tourstats intake … | head`
        _nobody_reads()


def _nobody_reads() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _plain(text: str) -> str:
    """A sentence as a terminal shows it: what is to be typed stands in quotation marks."""
    return text.replace("`", '"')


# ---------------------------------------------------------------------------- what may be typed


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence; how everything is typed is asked with --help."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f'{self.prog}: {message.rstrip(".")}. How it is typed: "{self.prog} --help".\n')


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="tourstats", description="Be ready for a set that changes every show.")
    parser.add_argument("--diary", metavar="PATH", help='the diary to use; "demo" is the demo tour (default: your own)')
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, (words, run, arguments) in COMMANDS.items():
        made = commands.add_parser(name, help=words, description=words)
        made.set_defaults(run=run)
        arguments(made)
    return parser


def _tonight_arguments(command: argparse.ArgumentParser) -> None:
    add = command.add_argument
    sets = "a text file with the set, photos of its pages, or - to paste it; without: as planned"
    add("set", nargs="*", metavar="SET", help=sets)
    add("--minutes", type=_number(0, 1440), default=110.0, help="time before doors (default: %(default).0f)")
    settle = "settle song N of the set: a title, new, or skip"
    add("--song", action="append", default=[], metavar='N="TITLE"', help=settle)
    add("--accept", action="store_true", help="take what is proposed for every line that is not sure")
    add("--all", action="store_true", help="everything that is known, not one screen of it")
    add("--show", type=int, metavar="N", help="number of the show in the diary (default: the next one)")
    add("--date", type=_day, help="day of the show, as 2031-03-04 (default: today)")
    add("--city", help="city, for a show that is not in the diary yet")
    add("--venue", help="venue, for a show that is not in the diary yet")
    add("--room", help="kind of venue: theatre, arena, club, festival, studio, other")
    add("--paper", default="A4", choices=("A4", "Letter"))
    where = "where the sheet goes (default: sheets)"
    add("--sheets", default="sheets", type=Path, metavar="FOLDER", help=where)
    whom = "one list to hand out or paste instead of the show day: " + ", ".join(FOR)
    add("--for", dest="whom", choices=FOR, metavar="WHOM", help=whom)
    add("--dark", action="store_true", help="the sheet white on black, for a tablet")
    add("--doubts", action="store_true", help="say on the sheet how long each song was out")
    level = "level on stage, for the reminder on hearing (97 is assumed)"
    add("--level", type=_number(40, 140), metavar="DBA", help=level)


def _likely_arguments(command: argparse.ArgumentParser) -> None:
    add = command.add_argument
    most = "how many to list (default: %(default)s)"
    add("--run", dest="most", type=_count, default=10, metavar="N", help=most)
    add("--known", action="append", default=[], metavar="TITLE", help="a song known to be in")
    add("--out", action="append", default=[], metavar="TITLE", help="a song known not to be in")


def _song_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("title", nargs="*", metavar="TITLE", help="a title or another name; or words to look for")
    test = "be asked about its shape, or without a title about what is due today; Ctrl-D ends it"
    command.add_argument("--test", action="store_true", help=test)
    command.add_argument("--all", action="store_true", help="every row, not the newest of each table")
    shape = "write down its shape: one line in quotation marks, a text file, or - to paste it"
    command.add_argument("--shape", metavar="SHAPE", help=shape)


def _listen_arguments(command: argparse.ArgumentParser) -> None:
    add = command.add_argument
    files = "the files of one show, in order, or a folder: its files of that day"
    add("recording", nargs="+", type=Path, metavar="RECORDING", help=files)
    add("--show", type=int, metavar="N", help="number of the show in the diary (default: the latest played)")
    add("--minutes", type=_number(1, 1440), metavar="N", help="how long you can listen tonight (default: all songs)")


def _intake_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("files", nargs="+", type=Path, metavar="FILE")
    settle = "settle a question that was listed"
    command.add_argument("--answer", action="append", default=[], metavar='KEY="ANSWER"', help=settle)
    command.add_argument("--accept", action="store_true", help="take what is proposed for every open question")
    command.add_argument("--planned", action="store_true", help="the sets are as they were handed out, not as played")


def _export_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("folder", type=Path, metavar="FOLDER")


def _backup_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("to", nargs="?", type=Path, metavar="FILE")
    key = "copy the key for people instead, to take it to another machine; keep it apart from the diary's copies"
    command.add_argument("--people-key", type=Path, metavar="FILE", help=key)


def _restore_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("copy", nargs="?", type=Path, metavar="FILE")
    key = "use a key for people that was saved, instead"
    command.add_argument("--people-key", type=Path, metavar="FILE", help=key)


def _no_arguments(_: argparse.ArgumentParser) -> None:
    """Nothing but the diary."""


def _browser_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument("--no-browser", action="store_true", help="print the address instead of opening it")


def _workbook_arguments(command: argparse.ArgumentParser) -> None:
    add = command.add_argument
    _browser_argument(command)
    add("--page", metavar="NAME", default="today", help="the page to open, such as show-day (default: today)")
    add("--address", help="where the pages listen (default: this machine only)")
    add("--theme", choices=("light", "dark"), default="light", help="how the pages look (default: %(default)s)")
    add("--phone", action="store_true", help="let a telephone in: prints the way in, also as a picture for its camera")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f'"{text}" is no day; write it as 2031-03-04') from error


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f'"{text}" has to be a whole number of at least 1')
    return int(text)


def _number(least: float, most: float) -> Callable[[str], float]:
    def number(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not least <= value <= most:
            raise argparse.ArgumentTypeError(f'"{text}" has to be a number from {least:g} to {most:g}')
        return value

    return number


# ---------------------------------------------------------------------------- whose diary


def _tour(store: Whose) -> Tour:
    from tourstats.diary import opened

    with opened(store.path, make=False) as diary:
        return diary.read()


def _say_if_demo(store: Whose, also: str = "") -> None:
    from tourstats.pages import workbook

    if store.demo:
        words = _plain(f"{workbook.DEMO_WORDS.replace('*', '')}{also}")
        print(textwrap.fill(words, WIDTH), end="\n\n")


def _own(asked: argparse.Namespace) -> Path:
    """Where the person's own diary is, also before it is there; the demo tour is nobody's own."""
    from tourstats.diary import where
    from tourstats.pages import workbook

    if workbook.whose(asked.diary, writing=True).demo:
        raise Problem(
            "The demo tour stays as it is: nothing is read into it, copied or taken back. Say the same without "
            "`--diary demo`, and it is done to your own diary, which begins with your first set or file."
        )
    return where(asked.diary)


# ---------------------------------------------------------------------------- the commands


def _tonight(asked: argparse.Namespace) -> None:
    from tourstats.diary import begun
    from tourstats.models import tonight
    from tourstats.pages import sheet, workbook
    from tourstats.pages.show_day import words as show_day
    from tourstats.tour import at_hand, night_of

    store = workbook.whose(asked.diary, writing=bool(asked.set))
    show_id: object
    read: list[str] = []
    if asked.set:
        day = asked.date or date.today()  # noqa: DTZ011  # the day on the wall
        text = _text(asked.set, [asked.city or "", *(f"{day:{form}}" for form in ("%a", "%A", "%d.%m", "%-d %b"))])
        with begun(store.path) as diary:
            show_id, read = _write_tonights_set(diary, asked, text)
            tables = diary.read()
    else:
        tables = _tour(store)
        night = date.max if store.demo else night_of(datetime.now())  # noqa: DTZ005  # the clock on the wall
        show_id = at_hand(tables, night) if asked.show is None else asked.show
    if show_id is None:
        raise Problem("No show is to come in the diary. Give the set: `tourstats tonight SET.txt --city CITY`.")
    brief = tonight.brief(tables, show_id, minutes=asked.minutes)
    _say_if_demo(store, " What you try here is not kept." if asked.set else "")
    if asked.whom:
        print(_list_for(brief, asked))
        return
    printed = sheet.stage_sheet(brief, asked.sheets, asked.paper, dark=asked.dark, doubts=asked.doubts)
    told = [part for line in read for part in textwrap.wrap(f"Read: {line}", WIDTH, subsequent_indent="      ")]
    print(*told, sep="\n", end="\n" * bool(told))
    most = show_day.SCREEN - len(told)
    print(show_day.as_text(brief, level_dba=asked.level) if asked.all else show_day.on_one_screen(brief, most=most))
    print(f"The stage sheet: {printed.pdf} and {printed.html}", *printed.left_out, sep="\n")
    print("The workbook opens with: tourstats workbook")


def _list_for(brief: Brief, asked: argparse.Namespace) -> str:
    """One list as text to paste, and where it is on paper."""
    from tourstats.pages.lists import printed, words

    made = words.listed_for(brief, asked.whom)
    place = printed.write(made, asked.sheets, f"{brief.show['date']:%Y-%m-%d}", asked.paper)
    return f"{words.as_message(made)}\n\nOn paper: {place}"


def _write_tonights_set(diary: Diary, asked: argparse.Namespace, text: str) -> tuple[int, list[str]]:
    """Settle what is open in the pasted set, write it; saving comes before thinking. Gives the show and what to say."""
    from tourstats.diary import read_set
    from tourstats.diary.tonights_set import Named, earlier_sets, keep, places_of, show_of
    from tourstats.reading.account import said
    from tourstats.reading.settling import NoSetProblem, OpenLinesProblem, accepted, first_day, settled

    tour, today = diary.read(), date.today()  # noqa: DTZ011  # the day on the wall
    before = earlier_sets(tour, tour.day_of(asked.show) or asked.date or today)
    lines = read_set(text, tour.songs, places_of(diary, asked.city), before)
    NoSetProblem.unless_a_set(lines)
    answers: dict[int | str, str] = dict(_places(_answers(asked.song), lines))
    if not len(tour.songs):
        answers = {**first_day(lines), **answers}
    if asked.accept:
        answers = {**accepted(lines), **answers}
    try:
        ready = settled(lines, _asked(lines, answers))
    except OpenLinesProblem as problem:
        raise Problem(_how_to_settle(problem)) from problem
    with diary.atomic():
        named = Named(asked.show, asked.date, asked.city, asked.venue, asked.room)
        show_id = show_of(diary, named, today, lines.attrs["headed"], accept=asked.accept)
        keep(diary, ready, show_id, pasted=text)
    missing = [f"No line has the number {number}." for number in lines.attrs["missing"]]
    return show_id, [*said(ready.account), *missing]


def _song(asked: argparse.Namespace) -> None:
    from tourstats.diary import opened
    from tourstats.models import song
    from tourstats.pages import workbook
    from tourstats.pages.kit import tables_shown
    from tourstats.pages.song import words
    from tourstats.problems import UnknownSongProblem

    store, typed = workbook.whose(asked.diary, writing=bool(asked.shape or asked.test)), " ".join(asked.title)
    if asked.test:
        _say_if_demo(store, " What you try here is not kept.")
        return _test(store, typed)
    if not typed:
        raise Problem("Name a song, or words to look for; `tourstats song --test` asks about what is due today.")
    with opened(store.path, make=False) as diary:
        if asked.shape:
            print(*_write_shape(diary, typed, asked.shape), sep="\n", end="\n\n")
        tour = diary.read()
    _say_if_demo(store, " What you try here is not kept." if asked.shape else "")
    try:
        print(words.as_text(words.of_song(tour, typed), most=None if asked.all else 8))
    except UnknownSongProblem:
        there = song.search(tour, typed)
        if not len(there):
            raise
        most, page = None if asked.all else 20, words.of_found(tour, there)
        in_full = words.as_text(page, most=most) if page else ""
        print(in_full or tables_shown.as_text(there[["kind", "words"]], most=most, wrap=True))


def _test(store: Whose, typed: str) -> None:
    """Ask about shapes: a question, its answer at Enter, known or not by one letter; each answer is kept at once."""
    from tourstats.diary import opened
    from tourstats.pages.song import self_test as testing

    with opened(store.path, make=False) as diary:
        sitting = testing.sitting(store, diary.read(), typed)
        print(testing.IN_THE_TERMINAL if len(sitting) else "Nothing is due today.")
        known = answered = 0
        try:
            for row in sitting.itertuples():
                input(f"\n{row.song}: {row.asked} ")
                right = input(f"  {row.answer}  Known? y or n ").strip().casefold().startswith("y")
                diary.add_tested(row.song, row.asked, right, testing.today(store, diary.read()))
                known, answered = known + right, answered + 1
        except EOFError:
            print()
    print(f"{known} of {answered} known." if answered else "", end="\n" * bool(answered))


def _write_shape(diary: Diary, typed: str, given: str) -> list[str]:
    """Read a shape that was given as a line, a file or pasted, save it, and say what it was read as."""
    from tourstats.models import song
    from tourstats.reading.files import text_in
    from tourstats.reading.shapes import read_shape, said

    text = _text([given]) if given == "-" else text_in(Path(given)) if _is_file(given) else given
    title, read = song.one(diary.read(), typed), read_shape(text)
    if not len(read):
        raise Problem("No section can be read in this shape. Write it as in: v 16 brushes | ch 8 | out on nod")
    diary.write_shape(title, read)
    return [f"The shape of {title} is saved.", *said(read)]


def _is_file(given: str) -> bool:
    """Whether a shape is given as the name of a file: a line of sections is too long for a name, or has strokes."""
    return len(given) < 200 and "|" not in given and Path(given).is_file()  # noqa: PLR2004  # letters of a name


def _listen(asked: argparse.Namespace) -> None:
    from tourstats.diary import opened
    from tourstats.pages import workbook
    from tourstats.pages.kit import tables_shown
    from tourstats.pages.listening import hearing, words
    from tourstats.problems import UnknownShowProblem

    store = workbook.whose(asked.diary, writing=True)
    tour = _tour(store)
    played = tour.played().show_id.tolist()
    if not played:
        raise Problem("No set that was played is saved yet: save it on the page *After the show*, then listen.")
    show_id = played[-1] if asked.show is None else asked.show
    if show_id not in set(tour.shows.show_id):
        raise UnknownShowProblem.of(show_id)
    print(words.PEOPLE, end="\n\n")
    heard = hearing.heard(store.path, show_id, asked.recording, progress=_on_one_line())
    print(file=sys.stderr)
    with opened(store.path, make=False) as diary:
        tour, kept = diary.read(), diary.kept()
    _say_if_demo(store, " What you try here is not kept.")
    print(words.at_a_glance(tour, show_id), *heard.remarks, sep="\n", end="\n\n")
    print(words.table_as_text(tour, show_id, kept), end="\n\n")
    print(f"What to hear first{f' in {asked.minutes:.0f} minutes' if asked.minutes else ''}:")
    print(tables_shown.as_text(words.first(tour, show_id, asked.minutes, kept), wrap=True), end="\n\n")
    print(words.EARS)


def _on_one_line() -> Callable[[float, str], None]:
    """Tell of progress on one line of a terminal; nothing where nobody looks."""

    def tell(share: float, said: str) -> None:
        if sys.stderr.isatty():
            print(f"\r{share:4.0%}  {said:<60}", end="", file=sys.stderr, flush=True)

    return tell


def _text(names: Sequence[str], about: Sequence[str] = ()) -> str:
    """The set as it is in a file, on photos of its pages, or as it is pasted; the words choose between sheets."""
    from tourstats.reading.files import text_in
    from tourstats.reading.letters import decoded
    from tourstats.reading.photos import is_photo, text_of_photos

    if all(is_photo(name) for name in names):
        return text_of_photos([(name, _bytes(Path(name))) for name in names])
    if len(names) > 1:
        raise Problem("Give the set as one text, or as photos of its pages.")
    if names[0] != "-":
        return text_in(Path(names[0]), about)
    if sys.stdin.isatty():
        print("Paste the set, then press Ctrl-D on a line of its own.")
    pasted = getattr(sys.stdin, "buffer", None)
    return sys.stdin.read() if pasted is None else decoded(pasted.read()).text


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise Problem(f"{path} cannot be read: {error.strerror}. Look at its name and its folder.") from error


def _answers(given: Sequence[str]) -> dict[str, str]:
    """Read KEY=ANSWER pairs."""
    pairs = [text.partition("=") for text in given]
    wrong = [key for key, sign, answer in pairs if not sign or not answer.strip()]
    if wrong:
        raise Problem(f'"{wrong[0]}" settles nothing. Write what it settles and the answer, as in 7="Copper Wire".')
    return {key.strip(): answer.strip().strip('"') for key, _, answer in pairs}


def _places(answers: Mapping[str, str], lines: pd.DataFrame) -> dict[int | str, str]:
    """Answers by the place in the set; the order of the songs is answered by its own word."""
    from tourstats.reading.settling import ORDER

    wrong = [key for key in answers if key != ORDER and (not key.isdecimal() or not 1 <= int(key) <= len(lines))]
    if wrong:
        raise Problem(
            f'"{wrong[0]}" is no place in the set, which has {counted(len(lines), "song")}. '
            'Write the place and its title, as in 7="Copper Wire".'
        )
    return {key if key == ORDER else int(key): answer for key, answer in answers.items()}


def _asked(lines: pd.DataFrame, answers: Mapping[int | str, str]) -> dict[int | str, str]:
    """Ask about each line that is open, if there is somebody at the keyboard; who ends the input is asked no more."""
    from tourstats.reading.settling import ORDER, choices, open_lines

    answers = dict(answers)
    if not sys.stdin.isatty():
        return answers
    questions: list[tuple[int | str, str, list[tuple[str, str]]]] = [
        (int(row.position), f'Song {row.position}: "{row.as_typed}"{_because(row.why)}', choices(row))
        for row in open_lines(lines, answers).itertuples()
    ]
    ways = lines.attrs[ORDER]
    if ways and ORDER not in answers:
        questions.append((ORDER, f"{lines.attrs['asks']}:", [(words, way) for way, words in ways.items()]))
    for key, words, offered in questions:
        print(words)
        for number, (choice, _) in enumerate(offered, start=1):
            print(f"  {number}  {choice}")
        try:
            said = input("  number, or the title: ").strip()
        except EOFError:
            break
        chosen = said.isdecimal() and 1 <= int(said) <= len(offered)
        answers[key] = offered[int(said) - 1][1] if chosen else said
    return answers


def _because(why: str) -> str:
    return f" ({why})" if why else ""


def _how_to_settle(problem: OpenLinesProblem) -> str:
    """Every open line, and below it what to add to the command for each thing that it may be."""
    from tourstats.reading.settling import ORDER, choices, proposed

    many = there_are(len(problem.lines), "line") if len(problem.lines) else f"{problem.asks} is"
    lines = [f"{many} not settled; nothing is saved. Type the command again with one of these for each:"]
    taken = list(problem.order)[:1]
    for row in problem.lines.itertuples():
        lines.append(f'Song {row.position} (line {row.line}), "{row.as_typed}"{_because(row.why)}:')
        best = proposed(row)
        taken += [best] * bool(best)
        for words, answer in choices(row):
            option = f"--song {row.position}={_quoted(answer)}"
            line = f"    {option}" if words == answer else f"    {option:<24}{words}"
            lines.append(f"{line}  (proposed)" if answer == best else line)
    if problem.order:
        lines.append(f"{problem.asks}:")
        lines += [f"    {f'--song {ORDER}={way}':<24}{words}" for way, words in problem.order.items()]
    lines += ["Or take all that is proposed: --accept"] * bool(taken)
    return "\n".join(lines)


def _quoted(answer: str) -> str:
    """An answer as a shell takes it whole."""
    if answer.isalnum():
        return answer
    return f'"{answer}"' if not set('"$`\\!') & set(answer) else shlex.quote(answer)


def _likely(asked: argparse.Namespace) -> None:
    from tourstats.pages import workbook
    from tourstats.pages.likely import words as likely

    found = workbook.whose(asked.diary)
    tables = _tour(found)
    _say_if_demo(found)
    known = dict.fromkeys(_titles(asked.known, tables.songs), True)
    known |= dict.fromkeys(_titles(asked.out, tables.songs), False)
    print(likely.as_text(tables, run=asked.most, known=known))


def _titles(typed: Sequence[str], songs: pd.DataFrame) -> list[str]:
    """Titles as the repertoire has them; what is not surely one is asked about."""
    from tourstats.reading.titles import index

    titles = index(songs)
    found = [(title, titles.match(title)) for title in typed]
    for title, match in found:
        if match.song is None:
            raise UnknownSongProblem.of(title, match.candidates)
    return [str(match.song) for _, match in found]


def _intake(asked: argparse.Namespace) -> None:
    from tourstats.diary import begun, import_tables
    from tourstats.diary.intake import look, write
    from tourstats.diary.writing import HistoryProblem, said_added

    answers, own, stage = _answers(asked.answer), _own(asked), "planned" if asked.planned else "played"
    scans, files = _apart(asked.files)
    if scans:
        _intake_scans(scans, own, answers)
    if not files:
        return
    with begun(own) as diary, diary.atomic():
        for path in files:
            if path.is_dir():
                _say(f"{path.name}: {said_added(import_tables(path, diary))}")
                continue
            looked = look(diary, path, answers, accept=asked.accept, stage=stage)
            _say(*looked.said)
            try:
                added = write(diary, looked, answers, stage=stage)
            except HistoryProblem as problem:
                raise Problem(_how_to_answer(problem.questions)) from problem
            _say(f"{path.name}: {said_added(added)}")


def _apart(given: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Files of scans, and all others."""
    if not any(path.suffix in (".parquet", ".csv", ".txt", ".tsv") for path in given):
        return [], list(given)
    from tourstats.scale.taking import are_scans

    scans = [path for path in given if are_scans(path)]
    return scans, [path for path in given if path not in scans]


def _intake_scans(files: Sequence[Path], own: Path, answers: Mapping[str, str]) -> None:
    """Put scans beside the diary whose shows they name, together with those that are there."""
    from tourstats.diary import opened
    from tourstats.scale.taking import beside, take_scans

    with opened(own, make=False) as diary:
        shows = diary.shows()
    person, show = answers.get("person", "person"), answers.get("show", "show_id")
    taken = take_scans(files, beside(own), shows, person=person, show=show, add=True)
    if not taken.written:
        raise Problem("\n".join(taken.said()))
    print(*taken.said(), sep="\n")
    print("How new each show was to these people: tourstats workbook --page repeat-audience")


def _how_to_answer(questions: pd.DataFrame) -> str:
    """Every question about a file, and below it what to add to the command to settle it."""
    from tourstats.diary.writing import HistoryProblem

    lines = [HistoryProblem.heading(len(questions))]
    if (questions["proposal"] != "").all():
        lines.append("With --accept, what stands first below each question is taken; or answer each.")
    for row in questions.itertuples():
        lines.append(HistoryProblem.line(row))
        if row.key == "nothing":
            continue
        offers = dict.fromkeys([*([row.proposal] if row.proposal else []), *row.candidates])
        typed = ["…"] if row.free or not offers else []
        lines += [f"    --answer {_quoted(f'{row.key}={answer}')}" for answer in [*offers, *typed]]
    return "\n".join(lines)


def _undo(asked: argparse.Namespace) -> None:
    from tourstats.diary import opened

    with opened(_own(asked), make=False) as diary:
        print(diary.undo())


def _export(asked: argparse.Namespace) -> None:
    from tourstats import diary
    from tourstats.pages import workbook

    found = workbook.whose(asked.diary)
    diary.export(asked.folder, found.path)
    _say_if_demo(found)
    print(f"Every table is in {asked.folder}.")


def _backup(asked: argparse.Namespace) -> None:
    from tourstats import diary
    from tourstats.diary import people

    if asked.people_key is not None:
        print(f"The key for people is copied to {people.save_key(asked.people_key)}.")
        return
    print(f"Copied to {diary.backup(_own(asked), asked.to)}.")


def _restore(asked: argparse.Namespace) -> None:
    from tourstats import diary
    from tourstats.diary import people
    from tourstats.diary.store.place import must_be_there

    if asked.people_key is not None:
        print(f"The key for people is {people.take_key(asked.people_key)} now.")
        return
    place = _own(asked)
    if asked.copy is None:
        there = diary.copies(place)
        if not there:
            must_be_there(place)
        print("\n".join(map(str, there)) or "There is no copy yet.")
        return
    aside = diary.restore(asked.copy, place)
    print(f"{asked.copy} is the diary now." + (f" What was there is kept as {aside}." if aside else ""))


def _check(asked: argparse.Namespace) -> None:
    from tourstats import diary
    from tourstats.pages import workbook

    found = workbook.whose(asked.diary, writing=True)
    troubles = diary.check(found.path)
    if troubles:
        raise Problem(" ".join(troubles))
    print(f"{'The demo tour' if found.demo else found.path} has no damage.")


def _workbook(asked: argparse.Namespace) -> None:
    from tourstats.pages.workbook import served

    browser, address = not asked.no_browser, asked.address or served.HERE
    served.serve(asked.page, asked.diary, address=address, theme=asked.theme, browser=browser, phone=asked.phone)


def _lab(asked: argparse.Namespace) -> None:
    from tourstats.pages import workbook

    workbook.run(asked.diary, browser=not asked.no_browser)


COMMANDS: dict[str, tuple[str, Callable[[argparse.Namespace], None], Callable[[argparse.ArgumentParser], None]]] = {
    "tonight": (
        "the show day: what changed, what needs care, the plan, and the stage sheet",
        _tonight,
        _tonight_arguments,
    ),
    "song": ("everything about one song; or what has these words", _song, _song_arguments),
    "likely": ("the songs most likely to come in next, with chances and reasons", _likely, _likely_arguments),
    "listen": ("find the songs of a show in its recording, and what to hear first", _listen, _listen_arguments),
    "intake": (
        "read songs or months of sets from CSV, XLSX or text, an exported folder, or ticket scans (Parquet)",
        _intake,
        _intake_arguments,
    ),
    "undo": ("take back the latest change, and say which that was", _undo, _no_arguments),
    "export": ("write every table as CSV", _export, _export_arguments),
    "backup": ("copy the diary now", _backup, _backup_arguments),
    "restore": (
        "put a copy in the place of the diary; without FILE, list the copies",
        _restore,
        _restore_arguments,
    ),
    "check": ("check the file", _check, _no_arguments),
    "workbook": ("open the pages in a browser, beginning with Today", _workbook, _workbook_arguments),
    "lab": ("open the notebooks in JupyterLab, to ask questions of your own", _lab, _browser_argument),
}
"""What each command is for, what it does, and what may be typed behind it."""

if __name__ == "__main__":
    sys.exit(main())
