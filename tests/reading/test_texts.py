# ruff: noqa: RUF001  # the signs that people type are meant
"""
Texts as people keep them: how the songs are counted, where an encore begins, what stands around the sets.

Every form stands here in other words and in another language than the file that first had it.
"""

from itertools import zip_longest

import pytest

from tourstats.reading.sources import Pasted, read

SONGS = ["Quill", "Ferry", "Tin Moth", "Marl", "Zinc Road", "Wren", "Lantern", "Oxbow", "Salt Stair"]
DAYS = [("4.3.2031", "Ostby"), ("5.3.2031", "Oxmere"), ("7.3.2031", "Tarnholt"), ("8.3.2031", "Velmar")]
MAIN = [[0, 1, 2, 3], [1, 0, 2, 4], [6, 2, 0, 7], [0, 3, 4, 7]]
LAST = [[4, 5], [6, 3], [5], [8, 2]]
SETS = [
    (day, town, [SONGS[at] for at in main], [SONGS[at] for at in last])
    for (day, town), main, last in zip(DAYS, MAIN, LAST, strict=True)
]


def blocks(lines_of):
    """
    A text with a block a show.
    """
    return "\n\n".join("\n".join([f"{day} {town}", *lines_of(main, last)]) for day, town, main, last in SETS)


def counted(songs, form, start=1):
    """
    Songs with a counter before each.
    """
    return [f"{form.format(number)}{song}" for number, song in enumerate(songs, start=start)]


def sets_of(found):
    """
    The songs of each show, and how many of them are of the encore.
    """
    return [(some.song.tolist(), int(some.encore.sum())) for _, some in found.plays.groupby("show_id")]


EXPECTED = [(main + last, len(last)) for *_, main, last in SETS]
FORMS = {
    "letters before the numbers": lambda main, last: [*counted(main, "L{:02} "), *counted(last, "Z{} ")],
    "a second counter": lambda main, last: [*counted(main, "{}) "), "* y otra *", *counted(last, "x{}) ")],
    "a dot and a hyphen": lambda main, last: [*counted(main, "{}.- "), "~ jeszcze ~", *counted(last, "b{}.- ")],
    "wide digits": lambda main, last: [*counted(main, "\uff0f{}. ".replace("\uff0f", "")), "<アンコール>", *last],
    "what is said between": lambda main, last: [
        *counted(main[:2], "{}. "),
        "Parole",
        *counted(main[2:], "{}. ", 3),
        "Bis:",
        *last,
    ],
    "a stroke near the end": lambda main, last: [", ".join(main) + " / " + ", ".join(last)],
    "a word before the last": lambda main, last: [
        *(f"- {song}" for song in main),
        *(f"Na deser: {song}" for song in last),
    ],
}


@pytest.mark.parametrize("form", FORMS)
def test_songs_are_counted_and_encores_begin_in_many_ways(form):
    """
    The same four shows, unasked.
    """
    found = read(Pasted(blocks(FORMS[form]), "sets.txt"))

    assert ([], EXPECTED) == (found.questions.key.tolist(), sets_of(found))


@pytest.mark.parametrize("signs", [(", ", " + "), (" – ", " / "), (", ", " - "), (" / ", " + ")])
def test_one_sign_near_the_end_of_every_list_begins_the_encore(signs):
    """
    It parts no other songs, and what stands beside it comes again elsewhere.
    """
    sign, stroke = signs
    text = "\n".join(f"{day} {town}: {sign.join(main)}{stroke}{sign.join(last)}" for day, town, main, last in SETS)

    found = read(Pasted(text, "sets.txt"))

    assert ([], EXPECTED) == (found.questions.key.tolist(), sets_of(found))


def test_a_title_with_a_stroke_is_no_encore():
    """
    Its halves stand nowhere alone.
    """
    text = "\n".join(f"{day} {town}: {', '.join([*main, 'Left / Right', *last])}" for day, town, main, last in SETS)

    found = read(Pasted(text, "sets.txt"))

    assert [([*main, "Left / Right", *last], 0) for *_, main, last in SETS] == sets_of(found)


@pytest.mark.parametrize("heads", [("1. OSA", "2. OSA"), ("VÖR", "EPTIR")])
def test_what_heads_two_columns_is_no_song(heads):
    """
    Columns are read down; one is longer than the other, and the encore stands below both.
    """
    halves = [([*main, *last], [*last[::-1], "Bramble", *main[:at]]) for at, (*_, main, last) in enumerate(SETS)]
    text = "\n\n".join(
        "\n".join(
            [f"{day} {town}", "", f"{heads[0]:<30}{heads[1]}"]
            + [f"{one:<30}{other}".rstrip() for one, other in zip_longest(left[:5], right[1:], fillvalue="")]
        )
        for (day, town, *_), (left, right) in zip(SETS, halves, strict=True)
    )

    found = read(Pasted(text, "sets.txt"))

    assert [] == [key for key in found.questions.key if not key.startswith("twice")]
    assert [[*left[:5], *right[1:]] for left, right in halves] == [songs for songs, _ in sets_of(found)]


def test_openers_side_by_side_are_songs_and_the_order_is_asked():
    """
    Without a word in common two lines of every show are no heads of columns.
    """

    def lines(main, last):
        rows = zip(["Bramble", *main], ["Loom", *last, "", "", ""], strict=False)
        return ["", *(f"{left:<30}{right}".rstrip() for left, right in rows)]

    found = read(Pasted(blocks(lines), "sets.txt"))

    assert ["two song columns"] == found.questions.key.tolist()
    assert all("Bramble" in songs and "Loom" in songs for songs, _ in sets_of(found))


def test_the_last_songs_of_every_show_below_an_empty_line_are_not_lost():
    """
    The same two songs end every show, and stand nowhere else.
    """
    found = read(Pasted(blocks(lambda main, last: [*main, *last, "", "Bramble", "Loom"]), "sets.txt"))

    assert all(["Bramble", "Loom"] == songs[-2:] for songs, _ in sets_of(found))


def test_what_stands_before_the_last_of_each_set_is_asked_where_no_title_tells():
    """
    "Coda: Bramble" ends every show, and Bramble stands nowhere else: it is never lost unasked.
    """
    found = read(
        Pasted(blocks(lambda main, last: [*(f"- {song}" for song in main + last), "Coda: Bramble"]), "sets.txt")
    )

    assert ["song: Bramble"] == found.questions.key.tolist()
    assert all(songs[-1] == "Bramble" for songs, _ in sets_of(found))


def test_a_list_below_a_heading_without_a_day_is_no_show():
    """
    It is written as the shows' headings are; what stands in it stands in no set.
    """
    text = "\n\n".join(
        "\n".join([f"## {day} {town}", *(f"- {song}" for song in main + last)]) for day, town, main, last in SETS
    )

    found = read(Pasted(f"{text}\n\n## Kaufen\n\n- Saiten\n- Klebeband\n- Batterien", "notes.md"))

    assert ([], [main + last for *_, main, last in SETS]) == (
        found.questions.key.tolist(),
        [songs for songs, _ in sets_of(found)],
    )


def test_a_heading_without_a_day_above_titles_is_asked_about():
    """
    A show whose day is missing may stand there.
    """
    text = "\n\n".join(
        "\n".join([f"## {day} {town}", *(f"- {song}" for song in main + last)]) for day, town, main, last in SETS
    )

    found = read(Pasted(f"{text}\n\n## Weide\n\n- Quill\n- Ferry\n- Marl", "notes.md"))

    assert "section: Weide" in found.questions.key.tolist()


def test_boxes_of_what_is_to_be_done_are_no_songs():
    """
    The songs have numbers, and no box.
    """
    text = blocks(lambda main, last: counted(main + last, "{}. ")).replace(
        "\n\n", "\n- [x] pay the hall\n- [ ] new skins\n\n", 1
    )

    found = read(Pasted(text, "notes.md"))

    assert ([], [main + last for *_, main, last in SETS]) == (
        found.questions.key.tolist(),
        [songs for songs, _ in sets_of(found)],
    )


def chat(heads, *, note="<Este mensaje fue editado>", encore="en rappel"):
    """
    A chat, a line a message, in which Ana sends the sets, and others write between.
    """
    lines = []
    for (day, _, main, last), head in zip(SETS, heads, strict=False):
        stamp = f"0{day.replace('.3.20', '.03.')}"
        lines += [f"{stamp}, 18:10 - Bo: who has the keys?", f"{stamp}, 18:12 - Ana: in the van, row {day[0]}"]
        said = [head, *main[:1], f"{main[1]} {note}", *main[2:], encore, *last]
        lines += [f"{stamp}, 23:05 - Ana: {text}" for text in said]
        lines[-2:-2] = [f"{stamp}, 23:06 - Bo: und die Bremse {day[0]}?"]
        lines.append(f"{stamp}, 23:40 - Bo: bravo {day[0]}")
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("heads", "places"),
    [
        (
            ["Ce soir à Montbrel-sur-Oise, set complet:", "Vaugirelle !!", "on a joué Saint-Orvel (Salle Jaune)"],
            [("Montbrel-sur-Oise", None), ("Vaugirelle", None), ("Saint-Orvel", "Salle Jaune")],
        ),
        (
            ["Heute Kaldersheim:", "Setliste Unterfelding", "Veltsquern (Kulturhaus), war gut!"],
            [("Kaldersheim", None), ("Unterfelding", None), ("Veltsquern", "Kulturhaus")],
        ),
        (
            ["dzisiaj Grabowiec Dolny:", "Kamiorna!", "Lipowa Dorna - klub Sowa"],
            [("Grabowiec Dolny", None), ("Kamiorna", None), ("Lipowa Dorna", "klub Sowa")],
        ),
    ],
)
def test_the_first_line_of_a_chats_set_names_the_town(heads, places):
    """
    The town is what is left without the words of a language; talk and what the program adds are no songs.
    """
    found = read(Pasted(chat(heads), "chat.txt"))

    assert ([], EXPECTED[:3]) == (found.questions.key.tolist(), sets_of(found))
    said = found.shows[["city", "venue"]].astype(object).where(found.shows[["city", "venue"]].notna(), None)
    assert places == list(said.itertuples(index=False, name=None))


def test_a_town_behind_a_common_word_is_asked_about():
    """
    "New Tarnholt" may be a town, and "Danach Oxmere" is none.
    """
    found = read(Pasted(chat(["Danach Oxmere:", "Ostby!", "Tarnholt:"]), "chat.txt"))

    assert ["city: Danach Oxmere:"] == found.questions.key.tolist()


def test_two_shows_of_a_day_are_told_by_the_word_in_which_their_headings_differ():
    """
    Two venues of one town are asked about.
    """
    text = (
        "4 March 2031 {}\n1. Quill\n2. Ferry\n3. Marl\n\n4 March 2031 {}\n1. Ferry\n2. Marl\n3. Wren\n\n"
        "6 March 2031 Oxmere, Loft\n1. Marl\n2. Quill\n3. Wren"
    )

    told = read(Pasted(text.format("Ostby, Kiln, Nachmittag", "Ostby, Kiln, Abend"), "sets.txt"))
    other = read(Pasted(text.format("Ostby, Salt Hall", "Ostby, Salt Shed"), "sets.txt"))

    assert ([], [1, 2, 1], ["Kiln", "Kiln", "Loft"]) == (
        told.questions.key.tolist(),
        told.shows.number.tolist(),
        told.shows.venue.tolist(),
    )
    assert ["two shows: 2031-03-04"] == other.questions.key.tolist()


def test_days_of_the_east_without_a_year_stand_under_that_of_the_heading():
    """
    Bullets and squares need no space behind them; a town stands before the first space.
    """
    days = ("◆3월4일(화) 물가마을 소극장", "◆3월5일(수) 은행골", "◆3월7일(금) 솔밭시")
    sets = [["・" + song for song in main + last] for *_, main, last in SETS[:3]]

    found = read(
        Pasted(
            "2031년 3월 공연\n\n" + "\n\n".join("\n".join([day, *some]) for day, some in zip(days, sets, strict=True)),
            "sets.txt",
        )
    )

    assert ([], [main + last for *_, main, last in SETS[:3]]) == (
        found.questions.key.tolist(),
        [songs for songs, _ in sets_of(found)],
    )
    assert ["2031-03-04", "2031-03-05", "2031-03-07"] == found.shows.date.astype(str).str[:10].tolist()


def test_a_song_that_opens_every_show_is_one():
    """
    A remark behind it at some of them, or other songs of every show in several towns, tell.
    """
    plain = read(Pasted(blocks(lambda main, last: ["Bramble Hill", *main, *last, "Loom", "Kettle Fair"]), "sets.txt"))
    heading = read(
        Pasted(blocks(lambda main, last: ["The Salt Band", *main, *last, "Loom", "Kettle Fair"]), "sets.txt")
    )

    assert "row: Bramble Hill" not in plain.questions.key.tolist()
    assert "row: The Salt Band" in heading.questions.key.tolist()
