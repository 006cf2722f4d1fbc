"""What looked like shows or songs and was none, or left it open: taken rightly, or asked about, never in silence."""

import pytest

from tourstats.reading.sets import read_set
from tourstats.reading.settling import settled
from tourstats.reading.sources import Pasted, read

SETS = [
    ["Salt Lantern", "Tin Moth", "Quill", "Gravel Pylon", "Wet Slate"],
    ["Tin Moth", "Salt Lantern", "Gravel Pylon", "Quill", "Kettle Hymn"],
    ["Quill", "Kettle Hymn", "Salt Lantern", "Wet Slate", "Tin Moth"],
    ["Salt Lantern", "Kettle Hymn", "Tin Moth", "Wet Slate", "Quill"],
    ["Gravel Pylon", "Tin Moth", "Wet Slate", "Salt Lantern", "Kettle Hymn"],
]
SAID = "{day} March 2031\nThank you {town}!! You were loud"
TOWNS = ["Ostby", "Oxmere", "Tarnholt", "Vellerup", "Brackmoor"]


def blocks(heading="{day} March 2031, {town}", line="{song}", behind=""):
    """A text of shows under their headings."""
    return "\n\n".join(
        "\n".join([heading.format(day=day, town=town), *(line.format(song=song) for song in songs), behind]).strip()
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    )


PLATFORMS = (
    blocks()
    .replace("Kettle Hymn", "Platform 12", 2)
    .replace("Kettle Hymn", "Platform 21", 1)
    .replace("Wet Slate", "Platf.")
)


def sets_of(found):
    """The songs of each show, in order."""
    return [one.song.tolist() for _, one in found.plays.groupby("show_id")]


@pytest.mark.parametrize("bullet", ["▪️", "🔸", "•", "→"])
def test_any_picture_may_stand_before_a_song_and_tags_behind_a_set_are_none(bullet):
    found = read(Pasted(blocks(SAID, bullet + " {song}", "#ontheroad #livemusic")))

    assert found.questions.empty
    assert sets_of(found) == SETS


def test_a_mail_in_a_mail_is_the_set_of_the_night_before_it_was_sent():
    mails = [
        f"{'> ' * deep}On {day} March 2031 at 11:08, Marit <m@band.example> wrote:\n"
        + "\n".join(f"{'> ' * deep}{text}" for text in [f"Played last night in {town}:", "", *songs, "-- ", "Marit"])
        for deep, (day, town, songs) in enumerate(zip((8, 6, 4), TOWNS, SETS, strict=False), 1)
    ]

    found = read(Pasted("All I have.\n\n" + "\n".join(mails)))

    assert found.questions.empty
    assert ["2031-03-07", "2031-03-05", "2031-03-03"] == found.shows.date.dt.strftime("%Y-%m-%d").tolist()
    assert TOWNS[:3] == found.shows.city.tolist()
    assert sets_of(found) == SETS[:3]


def test_a_list_of_songs_keeps_its_titles_whole_and_its_heading_out():
    titles = [
        f"{word} {tail}" for word in ("Rook", "Slate", "Pylon", "Wren", "Moth") for tail in ("12", "in B", "(Slow)")
    ]
    more = [
        f"{one} of {two}"
        for one in ("Ash", "Bone", "Cord", "Dust", "Elm", "Fern")
        for two in ("Salt", "Tin", "Wool", "Wax", "Rye", "Ice")
    ]
    titles += ["Encore, Said the Otter", *more]

    found = read(Pasted("Everything we can play (alphabetical)\n\n" + "\n".join(titles)))

    assert found.kind == "songs"
    assert settled(found.lines, {row.position: "new" for row in found.lines.itertuples()}).titles == titles


@pytest.mark.parametrize(
    ("text", "key"),
    [
        (blocks("{day} March 2031, {town}", "[x] {song}").replace("[x] Quill", "[ ] Quill"), "boxes"),
        (blocks().replace("Tarnholt", "Tarnholt, cancelled by half"), "cancelled: 2031-03-05"),
        ("INPUTS 12 March 2031\n\n1. Kick in\n2. Kick out\n3. Snare\n4. Hat", "one show"),
        (PLATFORMS, "short: Platf."),
    ],
)  # fmt: skip
def test_what_only_the_band_can_know_is_asked(text, key):
    assert key in read(Pasted(text)).questions.key.tolist()


def test_lines_that_come_again_are_no_list_of_songs_in_silence():
    found = read(Pasted("\n".join(f"x {song};" for songs in SETS * 3 for song in songs)))

    assert len(found.questions)


def test_a_column_called_encore_may_hold_titles():
    rows = ["day,city,main set,encore"]
    for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3):
        rows += [f"2031-03-{day:02},{town},{song},{songs[4] if at == 0 else ''}" for at, song in enumerate(songs[:4])]

    found = read(Pasted("\n".join(rows), "sets.csv"))

    assert sets_of(found) == SETS
    assert [4, 9, 14, 19, 24] == found.plays.index[found.plays.encore].tolist()


def test_the_town_beside_the_day_is_no_opener():
    rows = ["played,what"]
    for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3):
        rows += [f"{day:02}.03.2031,{town}", *(f",{song}" for song in songs)]

    found = read(Pasted("\n".join(rows), "sets.csv"))

    assert sets_of(found) == SETS


def test_new_before_a_title_is_no_title_and_a_picture_before_one_no_reaction():
    songs = ["New Mill Road", "Encore for a Mule", "Quill", "Tin Moth"]

    new = read_set("Quill\nNEW: Harbour Tax Polonaise\nTin Moth", songs)
    chat = read_set("12.03.31, 16:10 - Bettina: tonight\n1️⃣ Quill\n2️⃣ Tin Moth\n🔁 Encore for a Mule", songs)

    assert ["sure", "unknown", "sure"] == new.verdict.tolist()
    assert ["Quill", "Tin Moth", "Encore for a Mule"] == chat.song.tolist()


def test_an_open_order_of_two_columns_survives_lines_that_are_dropped():
    text = "\n".join(f"{at:02}/03/2031  20:00   56,623,104 {at:02} Rook {at}.wav" for at in range(1, 60))

    found = read(Pasted(text))

    assert len(found.questions)
    if found.lines is not None and found.lines.attrs.get("order"):
        settled(found.lines, {"order": "down"} | {row.position: "new" for row in found.lines.itertuples()})


def lists(line):
    """A line a show."""
    return "\n".join(
        line.format(day=day, town=town, main=", ".join(songs[:-1]), last=songs[-1])
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    )


FORMS = {
    "a year of two digits": blocks("{day} Mar 31 - {town}"),
    "one day without its year": blocks().replace("5 March 2031", "5 March"),
    "the encore within a line": lists("{day:02}.03.31 {town}: {main}. Enc: {last}"),
    "a channel": "\n\n".join(
        f"odile_k — 3/{day + 10}/2031 11:36 PM\n{town} @ The Long Room\n" + "\n".join(songs) + "\n:fire: 4"
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ),
    "a sheet a show, counted at its foot": "\n".join(
        f"{town.upper()}\nThe Long Room {day} March 2031\n" + "\n".join(songs) + f"\nMarsh tour / sheet {day - 2} of 5"
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ),
    "cut, and why": blocks(line="- {song}").replace("- Quill\n", "- Quill\n- Otter Post (CUT - time)\n"),
    "what was played in": blocks("{day} March 2031\nwhat we did in {town}"),
    "a place before a dash": "Sets 2031\n"
    + "\n".join(
        f"{day}.3. {town} - {' > '.join(songs)}" for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ),
    "songs in quotation marks": "\n".join(
        f"March {day}, 2031 - {town}: " + ", ".join(f'"{song}"' for song in songs) + "."
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ),
    "days in a line of their own above clocks": "\n".join(
        f"--- Monday, March {day}, 2031 ---\nOdile  11:2{day} PM\n{town}\n" + "\n".join(songs)
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ),
    "marked up for a program": "<gigs>"
    + "".join(
        f'<gig date="2031-03-0{day}"><town>{town}</town>' + "".join(f"<song>{song}</song>" for song in songs) + "</gig>"
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    )
    + "</gigs>",
    "strokes between songs, and three before the encore": "\n".join(
        f"Mon Mar {day} 2031 {town}, The Loft -- {' // '.join(songs[:-1])} /// {songs[-1]}"
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ),
    "the weekday in brackets behind the day": blocks("2031年3月{day}日(金) {town}", "- {song}"),
    "a grid with the encore before its titles": ";".join(
        ["Show", *(f"{day}.3.2031 {town}" for day, town in enumerate(TOWNS, 3))]
    )
    + "".join(
        f"\nSong {at};" + ";".join(("(E) " if at == len(SETS[0]) else "") + songs[at - 1] for songs in SETS)
        for at in range(1, len(SETS[0]) + 1)
    ),
    "two people write": "\n".join(
        f"[0{day}.03.31, 23:45:{at:02}] {'Odile' if day % 2 else 'Bram'}: {text}"
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
        for at, text in enumerate([town, *songs])
    ),
}


@pytest.mark.parametrize("text", FORMS.values(), ids=FORMS.keys())
def test_these_forms_are_read_whole_and_unasked(text):
    found = read(Pasted(text))

    assert [] == found.questions.key.tolist()
    assert sets_of(found) == SETS
    assert [town.casefold() for town in TOWNS] == found.shows.city.str.casefold().tolist()
    assert [
        f"2031-03-{day:02}" for day in (range(13, 18) if "11:36 PM" in text else range(3, 8))
    ] == found.shows.date.dt.strftime("%Y-%m-%d").tolist()


def test_a_word_before_the_last_song_of_every_show_is_no_part_of_it():
    lines = [
        "\n".join([f"{day} March 2031, {town}", *songs[:-1], f"Last one: {songs[-1]}"])
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ]

    found = read(Pasted("\n\n".join(lines)))

    assert sets_of(found) == SETS
    assert not found.plays.encore.any()


def test_two_songs_of_an_encore_line_are_kept_though_one_holds_a_comma():
    numbered = [
        "\n".join([f"{day} March 2031, {town}", *(f"{at}. {song}" for at, song in enumerate(songs, 1)), "Encore: Zinc"])
        for day, (town, songs) in enumerate(zip(TOWNS, SETS, strict=True), 3)
    ]
    numbered[2] = numbered[2].replace("Encore: Zinc", "Encore: Old Dog, New Street / Zinc")

    found = read(Pasted("\n\n".join(numbered)))

    assert [*SETS[2], "Old Dog, New Street", "Zinc"] == sets_of(found)[2]


def test_two_shows_of_a_day_with_a_clock_each_are_two():
    text = blocks("{day} March 2031, 8 pm - {town}")
    again = f"3 March 2031, 3 pm - {TOWNS[0]}\n" + "\n".join(SETS[0][:4])

    found = read(Pasted(f"{again}\n\n{text}"))

    assert found.questions.empty
    assert [1, 2, 1, 1, 1, 1] == found.shows.number.tolist()
