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
