"""Files as people and other programs keep them: however lines are cut, the same shows come out, or it is asked."""

# ruff: noqa: E501, RUF001, S608  # a file typed in one line is read in one piece; signs that people type; the dump is a file

import io
import json
import textwrap

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tourstats.reading.sources import SETS, Pasted, read

DAYS = ["2031-03-04", "2031-03-05", "2031-03-08", "2031-03-09", "2031-03-12"]
TOWNS = ["Oslebury", "Hessop", "Vantry", "Quarm", "Little Ostby"]
SONGS = [
    "Tin Moth",
    "Wet Banner",
    "Snail Post",
    "Copper Thaw",
    "Nine Kettles",
    "Lamp for Ida",
    "Gravel Pylon",
    "Zinc Harbour",
]
WAYS_ROUND = [[0, 1, 2, 3, 4, 5], [1, 0, 6, 3, 5, 4], [2, 1, 6, 7, 0, 3], [7, 4, 1, 2, 6, 0], [3, 7, 5, 0, 1, 6]]
SETS_PLAYED = [[SONGS[at] for at in one] for one in WAYS_ROUND]
SHOWS = list(zip(DAYS, TOWNS, SETS_PLAYED, strict=True))


def blocks(lines):
    """A text with a day and a town above what `lines` makes of each set."""
    return "\n\n".join("\n".join([f"{day}, {town}", *lines(songs)]) for day, town, songs in SHOWS)


def sql():
    """Two tables, the second pointing at the first."""
    gigs = [f"INSERT INTO gig VALUES ({at},'{day}','{town}');" for at, (day, town, _) in enumerate(SHOWS, start=1)]
    played = [
        f"INSERT INTO played VALUES ({at},{place},'{song}');"
        for at, (*_, songs) in enumerate(SHOWS, start=1)
        for place, song in enumerate(songs, start=1)
    ]
    head = ["CREATE TABLE gig (id INT, day DATE, town TEXT);", "CREATE TABLE played (gig INT, pos INT, song TEXT);"]
    return "\n".join([*head, *gigs, *played])


def pointing():
    """Gigs of an app that names its songs by number."""
    gigs = [
        {"date": day, "place": {"city": town}, "setlist": [100 + SONGS.index(song) for song in songs]}
        for day, town, songs in SHOWS
    ]
    return json.dumps({"songs": [{"id": 100 + at, "title": song} for at, song in enumerate(SONGS)], "gigs": gigs})


def side_by_side():
    """Shows in columns padded with spaces."""
    rows = [TOWNS, DAYS, *zip(*SETS_PLAYED, strict=True)]
    return "\n".join("".join(f"{cell:<22}" for cell in row).rstrip() for row in rows)


RTF = r"{\rtf1\ansi\ansicpg1252 " + "".join(
    rf"\b {day}, {town}\b0\par " + "".join(rf"{song}\par " for song in songs) + r"{\strike Brass Otter}\par \par "
    for day, town, songs in SHOWS
) + "}"  # fmt: skip

UNASKED = {
    "two songs a line": blocks(lambda songs: [f"{at + 1}. {songs[at]}     {at + 2}. {songs[at + 1]}" for at in (0, 2, 4)]),
    "two columns numbered down": blocks(lambda songs: [f" {at + 1}  {songs[at]:<24} {at + 4}  {songs[at + 3]}" for at in range(3)]),
    "a list in a sentence": blocks(lambda songs: ["The van smells of soup.", f"They played: {', '.join(songs[:-1])} and {songs[-1]}.", "Home at two."]),
    "slashes, two lines": blocks(lambda songs: [" / ".join(songs[:3]), " / ".join(songs[3:])]),
    "running time first": blocks(lambda songs: [f"{4 * at}:0{at} {song}" for at, song in enumerate(songs)]),
    "key, time and tempo behind dashes": blocks(lambda songs: ["Set 1", *(f"{song} — Bb — 3:2{at} — 12{at}" for at, song in enumerate(songs))]),
    "a day sheet": blocks(lambda songs: ["09:30  Bus call", "19:30  Doors", *(f" {at} {song}" for at, song in enumerate(songs, start=1)), "Wifi: moth77"]),
    "short names with a legend": "\n".join(f"{''.join(word[0] for word in song.split())}{at} = {song}" for at, song in enumerate(SONGS))
    + "\n\n" + blocks(lambda songs: [", ".join(f"{''.join(word[0] for word in song.split())}{SONGS.index(song)}" for song in songs)]),
    "singers told by a legend": "IK / DV = who sings\n\n" + blocks(lambda songs: [f"{song} ({('IK', 'DV')[at % 2]})" for at, song in enumerate(songs)]),
    "dump of a database": sql(),
    "records that point at songs": pointing(),
    "records, the songs within": json.dumps({"gigs": [{"when": day, "where": {"town": town}, "main": [{"title": song} for song in songs]} for day, town, songs in SHOWS]}),
    "shows side by side": side_by_side(),
    "RTF, a song struck out": RTF,
    "folder of recordings": "\n".join(f"{day}_{town.replace(' ', '-')}_{at:02}_{song.replace(' ', '-')}.wav" for day, town, songs in SHOWS for at, song in enumerate(songs, start=1)),
    "encores marked before each": blocks(lambda songs: [*songs[:3], *(f"E: {song}" for song in songs[3:])]),
    "posts that thank a city": "\n\n".join("\n".join([f"Posted {day} at 11:58 PM", f"Thank you {town}!! You were loud. Tonight's setlist:", *(f"▪ {song}" for song in songs)]) for day, town, songs in SHOWS),
    "said behind titles, at other songs each night": blocks(lambda songs: [song + ("", " (short)", " *", " - acoustic", "", " (short)")[at] for at, song in enumerate(songs)]),
    "boxes behind hyphens": blocks(lambda songs: [f"- [x] {song}" for song in songs]),
    "two songs joined by an arrow, now and then": "".join(f"{day} {town}: {' / '.join([*songs[:2], ' > '.join(songs[2:4]), *songs[4:]])}\n" for day, town, songs in SHOWS),
    "encores behind a short word": blocks(lambda songs: [*(f"{at}. {song}" for at, song in enumerate(songs[:4], start=1)), *(f"enc. {song}" for song in songs[4:])]),
    "a heading of two lines in each cell": "\n".join(",".join(row) for row in [["", *(f'"{day}\n{town}"' for day, town, _ in SHOWS)], *([str(at + 1), *row] for at, row in enumerate(zip(*SETS_PLAYED, strict=True)))]),
    "a cell of many lines": "day,town,set\n" + "\n".join(f'{day},{town},"' + "\n".join(songs) + '"' for day, town, songs in SHOWS),
    "cut, with a reason": blocks(lambda songs: [f"{at}. {song}" for at, song in enumerate([*songs[:2], "Lost Otter (cut, curfew)", *songs[2:], "Brass Otter -- skipped"], start=1)]),
    "two encores joined": blocks(lambda songs: [*(f"- {song}" for song in songs[:4]), f"Ekstranummer: {songs[4]} og {songs[5]}"]),
    "a column of keys": "date;place;song;sävellaji\n" + "\n".join(f"{day};{town};{song};{('a-molli', 'C-duuri')[SONGS.index(song) % 2]}" for day, town, songs in SHOWS for song in songs),
    "a pause, a day off": "date,town,pos,song,state\n2031-03-03,,,,day off\n" + "\n".join(f"{day},{town},{at},{song},ok" for day, town, songs in SHOWS for at, song in [*enumerate(songs, start=1), ("", "--- interval, raffle ---")]),
    "cue sheets": "\n".join(f'REM DATE {day}\nPERFORMER "The Two Otters"\nTITLE "Live in {town}"\nFILE "a.wav" WAVE' + "".join(f'\n  TRACK {at:02} AUDIO\n    TITLE "{song}"\n    INDEX 01 00:0{at}:00' for at, song in enumerate(songs, start=1)) for day, town, songs in SHOWS),
    "sentences below, without the number that songs have": blocks(lambda songs: [*(f"{at}. {song}" for at, song in enumerate(songs, start=1)), f"> {('They sat all night.', 'No coffee left.')[len(songs[0]) % 2]}"]),
    "messages, one of them no set": "3/1/31, 10:05 - Fern: only lists in here please\n" + "\n".join(f"3/{int(day[-2:])}/31, 22:3{at} - Fern: {line}" for day, town, songs in SHOWS for at, line in enumerate([f"{town} tonight", *(f"{n}. {song}" for n, song in enumerate(songs, start=1))])),
    "days in many forms": "\n\n".join("\n".join([f"{head} {town}", *songs]) for head, (_, town, songs) in zip(["4.III.2031", "20310305", "2031/3/8", "9-Mar-31", "March 12th, 2031"], SHOWS, strict=True)),
}  # fmt: skip
SAME = (
    "2031-03-04, Oslebury\n"
    + "\n".join(f"{at}. {song}" for at, song in enumerate(SETS_PLAYED[0], start=1))
    + "\n\n2031-03-05, Hessop\n"
)


def shows_of(found):
    """Day, town and titles of each show that was read."""
    sets = found.plays.groupby("show_id").song.agg(list)
    return [(f"{show.date:%Y-%m-%d}", show.city, sets[show.show_id]) for show in found.shows.itertuples()]


@pytest.mark.parametrize("kind", UNASKED)
def test_a_file_of_this_kind_is_read_without_a_question(kind):
    """
    The same five shows, with their towns, in another dress.
    """
    found = read(Pasted(UNASKED[kind], "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)
    assert not found.account.taken_as.eq("not understood").any()


def test_two_tables_side_by_side_are_one_show_each():
    """
    Beside the day, the city and the doors stand the songs, the first in the row of the day.
    """
    book = openpyxl.Workbook()
    for number, (day, town, songs) in enumerate(SHOWS, start=1):
        said = [("Date", day), ("City", town), ("Doors", "19:00"), ("Hotel", "The Mitre")]
        book.active.append([f"SHOW {number}", None, None, "#", "Song"])
        for at, song in enumerate(songs):
            book.active.append([*(said[at] if at < len(said) else (None, None)), None, at + 1, song])
        book.active.append([])
    data = io.BytesIO()
    book.save(data)

    found = read(Pasted(data.getvalue(), "sheets.xlsx"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_a_mail_written_in_code_is_read_without_its_signature():
    """
    Letters in quoted-printable, and what stands below the last set.
    """
    body = "\n\n".join(
        "\n".join([f"{day}, {town}", *(f"{at}) {song}" for at, song in enumerate(songs, start=1))])
        for day, town, songs in SHOWS
    )
    head = "From: ida@nowhere.invalid\nDate: Mon, 02 Jun 2031 09:12:00 +0200\nContent-Transfer-Encoding: quoted-printable\n\nHi,\n\nhere they are:\n\n"
    text = head + body.replace("Tin Moth", "=C5=92il") + "\n\nIs that enough?\nR.\n\n-- \nIda Rens\ndrums, soup\n"
    found = read(Pasted(text, "sets.eml"))

    assert [
        (day, town, ["Œil" if song == "Tin Moth" else song for song in songs]) for day, town, songs in SHOWS
    ] == shows_of(found)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("same as the show before, Zinc Harbour instead of Snail Post", [*SETS_PLAYED[0][:2], "Zinc Harbour", *SETS_PLAYED[0][3:]]),
        ('same set, but "Zinc Harbour" instead of "Snail Post"', [*SETS_PLAYED[0][:2], "Zinc Harbour", *SETS_PLAYED[0][3:]]),
        ("same as last night, without Tin Moth", SETS_PLAYED[0][1:]),
        ("same again, no changes", SETS_PLAYED[0]),
    ],
)  # fmt: skip
def test_a_show_told_by_the_one_before_is_proposed_with_both_shows_named(said, expected):
    """
    Never taken without a question; the proposal has the other song in its place.
    """
    found = read(Pasted(SAME + said, "sets.txt"))
    question = found.questions.set_index("key").loc["same: 2031-03-05"]

    assert "2031-03-05" in question.problem
    assert "2031-03-04" in question.proposal
    assert expected == found.plays[found.plays.show_id == 2].song.tolist()


def test_what_is_not_understood_of_such_a_show_is_not_made_up():
    """
    "shorter, I think" names no song: the proposal leaves the show out.
    """
    found = read(Pasted(SAME + "same as the first night I think, shorter", "sets.txt"))

    assert "leave it out" == found.proposal["same: 2031-03-05"]
    assert 1 == len(found.shows)


def test_songs_of_the_sound_check_are_left_out_only_with_a_question():
    """
    They stand under a heading of their own, and are titles.
    """
    found = read(
        Pasted(
            blocks(lambda songs: ["soundcheck:", f"  {songs[3]}", "show:", *(f"  {song}" for song in songs)]),
            "sets.txt",
        )
    )

    assert "sound check" in found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_a_log_of_drives_is_no_history_of_sets():
    """
    Towns come again, and drivers; the numbers between say that these are no songs.
    """
    rows = [
        f"2031-05-{at + 11},{TOWNS[at]},{TOWNS[at + 1]},{200 + 37 * at},{('Ida', 'Bram')[at % 2]}" for at in range(4)
    ]
    found = read(Pasted("Day,From,To,km,driver\n" + "\n".join(rows), "drives.csv"))

    assert not len(found.shows) or len(found.questions)


@settings(max_examples=30, deadline=None)
@given(
    st.sampled_from(sorted(UNASKED)),
    st.integers(0, 40),
    st.sampled_from(["Otter", "3:45", "(short)", "Total 20", "~~Wet Banner~~", "hello there.", "- - -"]),
)
def test_nothing_is_missing_from_the_account_whatever_stands_between(kind, at, line):
    """
    A line put anywhere into a text is in the account, and every song of the account is a place of a show.
    """
    lines = UNASKED[kind].split("\n")
    if kind.startswith(("records", "dump", "RTF", "folder", "shows", "cue", "a cell of", "a heading of")):
        return
    text = "\n".join([*lines[: at % len(lines)], line, *lines[at % len(lines) :]])
    found = read(Pasted(text, "sets.txt"))

    if found.kind == SETS:
        assert {number for number, one in enumerate(text.split("\n"), start=1) if one.strip()} == set(found.account.row)
        titles = [title for one in found.account[found.account.taken_as == "song"].song for title in one.split("; ")]
        assert len(titles) == len(found.plays)


def numbered(songs):
    """A set with a number before each song."""
    return [f"{at}. {song}" for at, song in enumerate(songs, start=1)]


def with_edges(lead, tail):
    """Numbered sets with lines above and below each of them."""
    return "\n\n".join(
        "\n".join([f"{day}, {town}", *lead(at), *numbered(songs), *tail(at)])
        for at, (day, town, songs) in enumerate(SHOWS)
    )


def in_columns(songs):
    """Title, key, tempo and who sings, in columns of blanks."""
    said = [("F#m", 141, "RW"), ("E", 113, "RW"), ("Dm", 102, "KB"), ("C", 98, "KB")]
    rows = [(song, *said[SONGS.index(song) % len(said)]) for song in songs]
    return [f"{at:>2}  {song:<24}{key:<6}{bpm:<6}{who}" for at, (song, key, bpm, who) in enumerate(rows, start=1)]


def broken(songs):
    """A list in one paragraph, broken at 40 letters as an editor does."""
    return textwrap.wrap(" – ".join(songs), 40)


def without_years():
    """Days with the year in a heading of their own."""
    days = ["Tue 4 March", "Wed 5 March", "Sat 8 March", "Sun 9 March", "Wed 12 March"]
    shows = ["\n".join([f"{day}: {town}", *songs]) for day, (_, town, songs) in zip(days, SHOWS, strict=True)]
    return "\n\n".join(["== 2031 ==", *shows])


EDGES = {
    "what was counted below each set": with_edges(lambda _: [], lambda at: ["", f"> attendance ~{39 + 17 * at}"]),
    "who conducted above each set": with_edges(lambda at: [f"Conductor: {'Ida' if at % 2 else 'Odile'} Rens"], lambda _: []),
    "a remark in brackets": with_edges(lambda _: [], lambda at: ["(monitors dreadful, Ida too quiet)"] if at == 2 else []),
    "talk and a name below the last set": with_edges(lambda _: [], lambda _: []) + "\n\nRing me if anything is odd. The van is mended!\n\nLove to Jo,\nIda\n",
    "a page's foot": with_edges(lambda _: [], lambda at: [f"page {at + 1} of 5 - tour book"]),
    "encores by a letter": blocks(lambda songs: [*numbered(songs[:-1]), f"Z: {songs[-1]}"]),
    "an encore in another language": blocks(lambda songs: [*(f"* {song}" for song in songs[:-1]), "Ekstranummer:", f"* {songs[-1]}"]),
    "keys, tempi and initials": blocks(in_columns),
    "dots that lead to who wrote it": blocks(lambda songs: [f"{at} {song} {'.' * (30 - len(song))} {'B. Ives' if at % 2 else 'trad.'}" for at, song in enumerate(songs, start=1)]),
    "a list that an editor has broken": blocks(broken),
    "numbers and a sign": blocks(lambda songs: ["; ".join(f"{at}) {song}" for at, song in enumerate(songs[:-1], start=1)), f"bis: {songs[-1]}"]),
    "strokes before the encore": blocks(lambda songs: [f"{' / '.join(songs[:-1])} // {songs[-1]}"]),
    "a year that stands alone": without_years(),
}  # fmt: skip


@pytest.mark.parametrize("text", EDGES.values(), ids=EDGES)
def test_what_stands_around_the_songs_is_known_by_the_whole_file(text):
    """
    What repeats like a song is one; what has its own place in each show, and what stands once outside, is not.
    """
    found = read(Pasted(text, "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_a_title_below_the_numbers_of_one_set_is_asked_about():
    """
    It may have been played: nothing says that it is talk.
    """
    text = with_edges(lambda _: [], lambda at: ["", "Velvet Ladder"] if at == 3 else [])
    found = read(Pasted(text, "sets.txt"))

    assert ["song: Velvet Ladder"] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_the_city_is_the_place_that_reads_least_like_a_venue():
    """
    Venue before city, in a language whose words for venues are not all known; alike, it is asked.
    """
    places = ["Naustet Innerst", "Samfunnshuset", "Fiskebruket", "Låven hos Ida", "Naustet Innerst"]
    text = "\n\n".join(
        "\n".join([f"{day} - {place}, {town}", *songs]) for place, (day, town, songs) in zip(places, SHOWS, strict=True)
    )

    assert SHOWS == shows_of(read(Pasted(text, "sets.txt")))

    alike = "\n\n".join(
        "\n".join([f"{day} - {place}, {town}", *songs])
        for place, (day, town, songs) in zip(("Vorst", "Melk", "Anzel"), SHOWS, strict=False)
    )

    assert "city" in read(Pasted(alike, "sets.txt")).questions.key.tolist()


def test_of_few_shows_each_may_end_with_a_song_of_its_own():
    """
    It is asked about, and never left out in silence.
    """
    nights = [[*SONGS[:3], "Marl"], [*SONGS[1:3], SONGS[0], "Copper Wren"], [SONGS[2], *SONGS[:2], "Ask the Heron"]]
    text = "\n\n".join(
        "\n".join([f"{day}, {town}", *songs]) for (day, town, _), songs in zip(SHOWS, nights, strict=False)
    )
    found = read(Pasted(text, "sets.txt"))

    assert ["row: Marl"] == found.questions.key.tolist()
    assert nights == [songs for *_, songs in shows_of(found)]


def test_a_word_for_a_place_that_begins_a_name_belongs_to_it():
    """
    "Town Hall" is a venue; only "Town: Ostby" is labelled.
    """
    places = ["Town Hall", "City Hall", "Day Club", "Place des Ormes", "Town Hall"]
    text = "\n\n".join(
        "\n".join([f"{day} - {town}, venue: {place}", *songs])
        for place, (day, town, songs) in zip(places, SHOWS, strict=True)
    )
    found = read(Pasted(text, "sets.txt"))

    assert SHOWS == shows_of(found)
    assert places == [name.split(",")[0] for name in found.shows.venue]


def test_a_mail_with_several_sets_gives_their_days_its_year():
    """
    The day of the mail is no show.
    """
    days = [
        "Tuesday 4th March",
        "Wednesday 5th March",
        "Saturday 8th March",
        "Sunday 9th March",
        "Wednesday 12th March",
    ]
    body = "\n\n".join(
        "\n".join([f"{day}, {town}", "", *numbered(songs)]) for day, (_, town, songs) in zip(days, SHOWS, strict=True)
    )
    head = "From: ida@nowhere.invalid\nTo: odile@nowhere.invalid\nSubject: the sets\nDate: Mon, 17 Mar 2031 09:12:00 +0100\n\nHi Odile,\n\nall correct as far as I can tell.\n\n"  # fmt: skip
    found = read(Pasted(f"{head}{body}\n\nIda\n\n-- \nIda Rens\ndrums, soup\n", "sets.eml"))

    assert SHOWS == shows_of(found)


def test_messages_that_another_program_exported_are_a_chat():
    """
    JSON of a chat: the day is the message's, the set its text.
    """
    sent = [
        {"date": f"{day}T23:10:00", "from": "Ida", "text": ["tonight in ", {"text": town}, ":\n" + "\n".join(numbered(songs))]}
        for day, town, songs in SHOWS
    ]  # fmt: skip
    found = read(Pasted(json.dumps({"name": "band", "messages": sent}), "result.json"))

    assert SHOWS == shows_of(found)


@pytest.mark.parametrize("said", ["Walk-in music", "Thank you all for coming out tonight."])
def test_what_repeats_at_the_edge_of_sets_is_left_out_only_with_a_question(said):
    """
    It reads like no song, but it repeats like one.
    """
    found = read(Pasted(blocks(lambda songs: [said, *songs]), "sets.txt"))

    assert f"song: {said}" in found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_titles_that_begin_with_a_word_and_a_colon_are_songs():
    """
    "March: ..." in many shows is a kind of tune, in other rows each night; "Conductor: ..." stands in one row.
    """
    named = {song: f"March: {song}" for song in SONGS[::2]}
    text = blocks(lambda songs: [named.get(song, song) for song in songs])

    assert [named.get(song, song) for song in SETS_PLAYED[0]] == shows_of(read(Pasted(text, "sets.txt")))[0][2]


def test_new_in_brackets_is_said_of_a_song_that_stands_once():
    """
    No title ends so: it says that the song was played for the first time.
    """
    text = blocks(lambda songs: songs).replace(f"{SETS_PLAYED[-1][-1]}", f"{SETS_PLAYED[-1][-1]}\nSailcloth (NEW)")
    found = read(Pasted(text, "sets.txt"))

    assert "Sailcloth" in set(found.plays.song)
    assert not found.plays.song.str.contains("NEW").any()


def test_a_line_between_signs_is_asked_about_where_no_title_is():
    """
    "~ interval, tea and raffle ~" repeats like a song; it is proposed as none.
    """
    found = read(Pasted(blocks(lambda songs: [*songs[:2], "~ interval, tea and raffle ~", *songs[2:]]), "sets.txt"))

    assert "song: ~ interval, tea and raffle ~" in found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def numbered_with(tail=lambda _: "", below=lambda _: []):
    """Numbered sets with something behind each title, and lines below each set."""
    return blocks(
        lambda songs: [
            *(f"{at}. {song}{tail(song)}" for at, song in enumerate(songs, start=1)),
            *below(SETS_PLAYED.index(songs)),
        ]
    )


@pytest.mark.parametrize(
    "tail",
    [lambda song: f" [{90 + len(song)}]", lambda song: f" ({'ABCDE'[len(song) % 5]}m)"],
    ids=["tempo", "key"],
)
def test_keys_and_numbers_behind_every_title_are_remarks_without_a_question(tail):
    found = read(Pasted(numbered_with(tail), "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_what_never_has_a_number_among_numbered_songs_is_no_song():
    """
    Who wrote the list, in brackets, and a line in small letters, though both come again.
    """
    found = read(Pasted(numbered_with(below=lambda at: [f"({'OB'[at % 2]}K)", "shirts nearly gone"]), "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)


def test_a_song_in_the_place_of_another_is_the_one_that_was_played():
    """
    It stands in the line of the song, without brackets.
    """
    first, last = SETS_PLAYED[0][0], SETS_PLAYED[0][-1]
    text = numbered_with().replace(f". {first}", f". {first} instead of Velvet Ladder", 1)
    found = read(Pasted(text, "sets.txt"))

    assert [] == found.questions.key.tolist()
    assert SHOWS == shows_of(found)
    assert last in found.plays.song.tolist()


def test_a_show_told_by_another_takes_its_songs_without_what_is_said_around_them():
    """
    Singers behind the titles, a line below the set, and another line below the one that tells the show.
    """
    text = numbered_with(lambda song: f" ({'OB'[len(song) % 2]} sings)", lambda _: ["doors 19:00"])
    told = f"{text}\n\n2031-04-30, Hessop\nsame as in {TOWNS[-1]} except Velvet Ladder instead of {SETS_PLAYED[-1][1]}\ndoors 19:00\n"
    found = read(Pasted(told, "sets.txt"))

    assert ["same: 2031-04-30"] == [key for key in found.questions.key if key.startswith("same")]
    songs = [SETS_PLAYED[-1][0], "Velvet Ladder", *SETS_PLAYED[-1][2:]]
    assert ("2031-04-30", "Hessop", songs) == shows_of(found)[-1]


def test_a_number_in_digits_and_in_words_is_one_number():
    """
    "14 Herrings" is "Fourteen Herrings", as the commoner one is written.
    """
    text = blocks(lambda songs: [*songs, "Fourteen Herrings" if SETS_PLAYED.index(songs) else "14 Herrings"])
    found = read(Pasted(text, "sets.txt"))

    assert {"Fourteen Herrings"} == {song for song in found.plays.song if "Herrings" in song}


def test_lines_below_a_day_whose_set_stands_behind_it_are_said_of_the_show():
    """
    Each list stands behind day and town, and the weather below.
    """
    text = "\n".join(
        f"{day}, {town} — {'; '.join(songs)}\n   rain, {at + 7} degrees" for at, (day, town, songs) in enumerate(SHOWS)
    )
    found = read(Pasted(text, "sets.txt"))

    assert SHOWS == shows_of(found)


def test_what_is_said_behind_the_last_of_a_list_is_no_part_of_its_title():
    text = "\n".join(
        f"{day}, {town}: {', '.join(songs)}{'. They made us stop.' * (at == 1)}"
        for at, (day, town, songs) in enumerate(SHOWS)
    )
    found = read(Pasted(text, "sets.txt"))

    assert SHOWS == shows_of(found)


def test_letters_that_are_short_for_nothing_in_the_file_are_asked_about():
    """
    No title begins with these letters: what they mean is never guessed, and they are no title in silence.
    """
    text = numbered_with().replace(f". {SETS_PLAYED[0][2]}", ". WHDRB")
    found = read(Pasted(text, "sets.txt"))

    assert ["initials: WHDRB"] == found.questions.key.tolist()
