"""Messy histories: titles that look like remarks, towns that look like titles, in twelve shapes."""

# ruff: noqa: E501, S311  # titles and rows are read in one piece; seeded on purpose
import random
from datetime import date, timedelta

TITLES = [
    "Short Intro for Wasps",
    "1787",
    "Milk Float 9",
    "Milk Float 19",
    "Gavotte in F",
    "Second Gear (Fast)",
    "J",
    "Quiet Ending, Loud Soup",
    "Notes to the Plumber",
    "Total Lack of Gravy",
    "Half Time Pears",
    "Encore, Aunt Wilma",
    "Interval of Geese",
    "No Click, No Clack",
    "Acoustic Ladle",
    "Set of Spoons",
    "Cancelled Picnic",
    "Plan for Pudding",
    "Guest Towel",
    "Key of Turnips",
    "Reprise the Rice",
    "Oslebury Road",
    "Two for Oslebury",
    "March of the Ninth Sock",
    "The Left Kipper",
    "The Right Kipper",
    "Marrowbone",
    "Marrowbone (Part 2)",
    "Fog over Oslebury",
    "Hum Me a Radiator",
    "Kettle, Kettle",
    "Snail Post",
    "Wet Banner",
    "Zinc",
    "Loft Insulation",
    "Ask the Goat",
    "Bitumen Waltz",
    "Ferret on Sunday",
    "Opus 4 for Combs",
    "Żabka",
    "Élan vital du facteur",
    "Señor Mermelada",
]
TOWNS = [
    "Oslebury",
    "Long Pause",
    "Radiator Wells End",
    "Gorse Halt",
    "Twelve Bells Weir",
    "Ünterlohe",
    "Mildew Bay",
    "Quiet Corner",
    "Hessop",
    "Vantry",
]
SHAPES = (
    "long", "long foreign", "long day once", "columns", "columns with totals", "rows", "rows with names", "blocks", "blocks numbered",
    "chat", "set a line", "matrix",
)  # fmt: skip


def tour(seed, shows=9, songs=26, size=9):
    """Sets of a leg in order: day, town, titles, and where the encore begins."""
    dice = random.Random(seed)
    book = dice.sample(TITLES, songs)
    day, now, found = date(2031, 2, 20), dice.sample(book, size), []
    for _ in range(shows):
        day += timedelta(days=dice.choice([1, 1, 2, 3, 5]))
        for _ in range(dice.randint(2, 4)):
            now[dice.randrange(size)] = dice.choice([song for song in book if song not in now])
        order = now[:3] + dice.sample(now[3:], size - 3)
        found.append((day, dice.choice(TOWNS), order, size - 2))
    return found


def written(shape, sets):  # noqa: PLR0911  # one shape after the other
    """The text of a file of that shape."""
    if shape in ("long", "long foreign"):
        head = "date,town,no,song" if shape == "long" else "päivä;paikka;nro;kappale"
        mark = "," if shape == "long" else ";"
        rows = [
            mark.join((f"{day}", town, str(at), f'"{song}"'))
            for day, town, songs, _ in sets
            for at, song in enumerate(songs, 1)
        ]
        return "\n".join([head, *rows])
    if shape == "long day once":
        rows = [
            f"{day if not at else ''}\t{town if not at else ''}\t{song}"
            for day, town, songs, _ in sets
            for at, song in enumerate(songs)
        ]
        return "\n".join(["when\twhere\tsong", *rows])
    if shape.startswith("columns"):
        lines = ["\t".join(f"{day:%d.%m.%Y}" for day, *_ in sets), "\t".join(town for _, town, *_ in sets)]
        lines += ["\t".join(one[2][at] for one in sets) for at in range(len(sets[0][2]))]
        if shape != "columns":
            lines += [
                "",
                "\t".join(str(len(one[2])) for one in sets),
                "\t".join(f"{58 + at % 7}:{10 + at}" for at in range(len(sets))),
            ]
        return "\n".join(lines)
    if shape.startswith("rows"):
        head = (
            ["date;town;" + ";".join(f"Song {at}" for at in range(1, len(sets[0][2]) + 1))] if shape != "rows" else []
        )
        return "\n".join([*head, *(";".join([f"{day}", town, *songs]) for day, town, songs, _ in sets)])
    if shape.startswith("blocks"):
        number = "{0}. {1}" if shape != "blocks" else "{1}"
        blocks = []
        for day, town, songs, encore in sets:
            lines = [number.format(at, song) for at, song in enumerate(songs, 1)]
            blocks.append("\n".join([f"{day:%d %B %Y}, {town}", *lines[:encore], "--- Encore ---", *lines[encore:]]))
        return "\n\n".join(blocks)
    if shape == "chat":
        return "\n".join(
            f"[{day:%d/%m/%Y}, 22:4{at % 10}:07] Wilma: {town}\n" + "\n".join(songs)
            for at, (day, town, songs, _) in enumerate(sets)
        )
    if shape == "set a line":
        return "\n".join(f"{day:%d.%m.%Y} {town}: " + " > ".join(songs) for day, town, songs, _ in sets)
    titles = sorted({song for _, _, songs, _ in sets for song in songs})
    rows = [
        f"{song}\t" + "\t".join(str(songs.index(song) + 1) if song in songs else "" for _, _, songs, _ in sets)
        for song in titles
    ]
    return "\n".join(["\t" + "\t".join(f"{day}" for day, *_ in sets), *rows])


def grid(seed, titles, dice, slip):
    """A grid of thirty shows in which every title is played, with remarks, slips and a row of totals; and its sets."""
    rng = random.Random(seed)
    sets, now, rest = [], list(titles[:20]), list(titles[20:])  # who waits longest comes in
    for day, town, _, _ in tour(seed, shows=30):
        for _ in range(6):
            at = rng.randrange(20)
            rest.append(now[at])
            now[at] = rest.pop(0)
        sets.append((day, town, now[:3] + rng.sample(now[3:], 17)))
    rows = [[f"{day:%d.%m.%Y}" for day, _, _ in sets], [town for _, town, _ in sets]]
    for at in range(20):
        row = [songs[at] for _, _, songs in sets]
        rows.append([f"{one} (short)" if dice.random() < 0.05 else slip(dice, one) if dice.random() < 0.02 else one for one in row])  # fmt: skip
    return "\n".join("\t".join(row) for row in [*rows, ["20"] * len(sets)]), sets


def right(found, sets):
    """Whether what was read is what was played, show by show."""
    if [f"{day}" for day, *_ in sets] != [f"{day:%Y-%m-%d}" for day in found.shows.date]:
        return False
    read = [found.plays.song[found.plays.show_id == show].tolist() for show in found.shows.show_id]
    return [songs for _, _, songs, _ in sets] == read
