"""How people type a set, by a second process that was made without looking at the reader or the first process.

Truth: whole sets, each with a heading, one way of numbering, segues and an encore; `Typed.meant` says the title of each
song, or None where a person with the repertoire in hand would have to ask. A line counts as having an answer only if the
typed words are clearly nearer to its title than to any other. Temptation: remarks, keys, time signatures and the word
"with" look like parts of titles; a dance called a march looks like a day.
"""

# ruff: noqa: E501, RUF001, SIM905  # lists of words and signs are read in one piece

import re
import unicodedata
from dataclasses import dataclass

from rapidfuzz.distance import DamerauLevenshtein

STYLES = ("shared words", "odd", "dances", "phrases")
_NOUNS = "Ladle Night Saucer Road Plough Ferry Rake Hearth Tram Spoon Latch Mooring Wafer Wicket Window Trellis Garden Winter Harbour Bracket Stone Ledger Mortar Shutter Kitchen Lantern Sparrow Engine Carousel Meadow Ladder Stencil Orchard Violin Candle Mallet".split()
_ADJECTIVES = "Long Cold Little Last Blue Gilded Quiet Mild Dented Silver Old Empty Slow Paper Hollow Ribbed Crooked Distant".split()
_VERBS = "Leave Hold Carry Follow Remember Find Burn Turn Call Watch".split()
_BETWEEN = "in on under over by from to with without".split()
_ODD = (
    "Über dem Mehl;Café à la pelle;Señora del tamiz;Zażółć;La louche brisée;Seiferei im Mai;Søvnkløs;Él no barrió;Łódka;夜の鍋;"
    "Тихая лопата;Μικρό κουτάλι;ירח דלי;4/4 Hearth;99 Saucers;Rake (Part Two);Three-Up, Seven-Down;Shelf 212;AM/PM Ladle;No. 9;So, You Sift;"
    "1788;Track [Unlabelled];Half-Spoon;It's Lukewarm, Isn't It?;What Gravy?;Interlude: Buckets;Vol. 3 – Gaskets;Two O'Cork;Rake 'n' Sway;"
    "Bread & Gravel;Hutch...;Undercroft;Marrowfat;Pilchard;Vestry;Quicklime;Junket;Paraffin;Hogshead;Thimble;Porringer"
).split(";")
_DANCES = "Reel Waltz Jig March Polka Air Hornpipe Lament".split()
_PEOPLE = "Anna;the Miller;Old Tobias;the Ferryman;Maren;Ivo;the Widow;Captain Lowe;the Goose Girl;Benedikt;Osk;the Baker".split(
    ";"
)
_PLACES = (
    "Tarnble;Ellermouth;Skarrow;Vintle Hill;Low Pasture;Oxmere;Dunquill;Hollick;Breckwater;Quillet;Saltmarrow".split(
        ";"
    )
)
_NICKNAMES = "Chug Biggie Stomper Sleepy Wobble Zigzag Dirge Zipper Gumbo Noodle".split()
_FRESH = (
    "Gravel Pylon Ostrich Tariff Mustard Bishop Walrus Cobalt".split(),
    "Parade Syndrome Theory Hotel Divorce Circus Lullaby".split(),
)
_REMARKS = "short;long outro;new ending;brushes;half time;no solo;w/ horns;capo 2;Jo starts;short intro;drop D;in 6/8;tbc;with guest;guitar 2;2 guitars".split(
    ";"
)
_KEYS = "Am;G;F#m;Bb;C#;Dm;A;E;D minor".split(";")
_NUMBERING = (
    "{}. ",
    "{}) ",
    "{} ",
    "{:02d} ",
    "#{} ",
    "{} - ",
    "({}) ",
    "{}.",
    "{}: ",
    "- ",
    "• ",
    "",
    "{}.\t",
    "[ ] ",
    "No. {} ",
    "{}/ ",
    "→ ",
)
_HEADINGS = (
    "Westhallow 4/3/2031",
    "Set list Oxmere, 4 March 2031",
    "4.3.2031 Bad Quern Kulturhaus",
    "SETLIST",
    "Westhallow, 12 Nov",
    "",
)
_ENCORES = ("ENCORE", "Encore:", "--- encore ---", "E:", "(encore)", "Zugabe")
_KEYBOARD = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_KINDS = (
    ("exact",) * 9
    + ("one slip",) * 8
    + ("two slips",) * 3
    + ("bare",) * 3
    + ("initials",) * 3
    + ("first words",) * 4
    + ("cut",) * 3
    + ("nickname",) * 3
    + ("joined",) * 2
    + ("and",)
)


@dataclass(frozen=True)
class Typed:
    """One line of a set: its text, what each song in it means and by which kind of typing, and whether it is encore."""

    text: str
    meant: tuple[tuple[str | None, str], ...] = ()
    encore: bool = False


def plain(text):
    """Lower case without accents, punctuation and articles in front."""
    spelt = text.translate(str.maketrans("øØłŁ", "oOlL")).replace("&", " and ")
    bare = "".join(c for c in unicodedata.normalize("NFKD", spelt) if not unicodedata.combining(c)).casefold()
    words = re.sub(r"[^\w]+", " ", re.sub("['’]", "", bare)).strip()
    return re.sub(r"^(the|a|an|la|der|die|das) ", "", words)


def _pick(rng, items):
    return items[int(rng.integers(len(items)))]


def _title(rng, style):
    noun, other, adjective, verb = _pick(rng, _NOUNS), _pick(rng, _NOUNS), _pick(rng, _ADJECTIVES), _pick(rng, _VERBS)
    if style == "dances":
        dance, who, place = _pick(rng, _DANCES), _pick(rng, _PEOPLE), _pick(rng, _PLACES)
        study = f"{_pick(rng, ['Study', 'Prelude', 'Rondo'])} No. {rng.integers(1, 13)} in {_pick(rng, list('ABCDEFG'))} {_pick(rng, ['minor', 'major'])}"
        return _pick(
            rng,
            [
                f"{dance} for {who}",
                f"{who[0].upper()}{who[1:]}'s {dance}",
                f"The {place} {dance}",
                study,
                f"{dance} from {place}",
            ],
        )
    if style == "phrases" and rng.random() < 0.5:
        words = (
            "You I We She Nobody",
            "never always almost only still",
            "told wrote asked sold gave",
            "me him her us them",
            "about before after against",
        )
        return f"{' '.join(_pick(rng, part.split()) for part in words)} the {noun.lower()}"
    between = _pick(rng, _BETWEEN)
    return _pick(rng, [f"{adjective} {noun}", f"The {adjective} {noun}", f"{noun} {between} the {other}", f"{verb} Me {between.title()} the {noun}", f"{noun} and {other}",
                       f"{verb} the {noun}", f"{noun} of {other}", f"{adjective} {noun} {other}", f"The {noun} That {verb}s", f"My {adjective} {noun}"])  # fmt: skip


def repertoire(rng, style, size=150):
    """Titles that a person could not take for each other, and nicknames of a few: title → nickname or None."""
    found = []
    wanted = [str(one) for one in rng.permutation(_ODD)] if style == "odd" else []
    while len(found) < size:
        made = wanted.pop() if wanted else _title(rng, style)
        if all(DamerauLevenshtein.distance(plain(made), plain(other)) > 1 + made.isascii() for other in found):
            found.append(made)
    nicknames = dict(zip(map(str, rng.permutation(found)), _NICKNAMES, strict=False))
    return {title: nicknames.get(title) for title in map(str, rng.permutation(found))}


def _slip(rng, text):
    places = [at for at, letter in enumerate(text) if letter.isalpha()]
    at = _pick(rng, places)
    letter, how = text[at], rng.integers(4)
    row = next((row for row in _KEYBOARD if letter.lower() in row), letter)
    beside = _pick(
        rng, [row[max(row.find(letter.lower()) - 1, 0)], row[min(row.find(letter.lower()) + 1, len(row) - 1)]]
    )
    if how == 0:
        return text[:at] + text[at + 1 :]
    if how == 1:
        return text[:at] + text[at + 1 : at + 2] + letter + text[at + 2 :]
    return text[:at] + beside + text[at + (how == 2) :]  # one of four ways


def _fits(names, typed, how):
    """Songs that a short form may mean: whose words it begins, stands in, or is the initials of."""
    typed = plain(typed)
    test = {
        "begins": lambda name: plain(name).startswith(typed),
        "stands in": lambda name: f" {typed} " in f" {plain(name)} ",
        "initials": lambda name: typed in {"".join(w[0] for w in plain(name).split()), "".join(w[0] for w in plain(name).split() if w not in ("and", "the", "of", "a", "in", "to"))},
    }[how]  # fmt: skip
    return {title for title, nickname in names.items() for name in (title, nickname) if name and test(name)}


def _clear(names, typed, title):
    """Whether what was typed is far nearer to its title than to any other."""
    far = {other: DamerauLevenshtein.distance(plain(typed), plain(other)) for other in names}
    mine = far.pop(title)
    return min(far.values()) >= max(mine + 3, 2 * mine + 1)


def _typed(rng, names, title, kind):  # noqa: PLR0911  # one kind after the other
    """Type a title in one way; None if that way leaves a doubt."""
    words = plain(title).split()
    if kind == "exact":
        return title
    if kind in ("one slip", "two slips") and len(plain(title)) >= (6 if kind == "one slip" else 10):
        made = _slip(rng, title) if kind == "one slip" else _slip(rng, _slip(rng, title))
        return made if plain(made) != plain(title) and _clear(names, made, title) else None
    if kind == "bare":
        return plain(title) if _clear(names, plain(title), title) and plain(title).isascii() else None
    if (
        kind == "initials" and len(words) > 2 and title.isascii() and not re.search(r"\d", title)
    ):  # two letters may be a word
        letters = "".join(word[0] for word in words)
        taken = _fits(names, letters, "begins") | _fits(names, letters, "stands in")
        return (
            _pick(rng, [letters.upper(), letters, ".".join(letters.upper()) + "."])
            if _fits(names, letters, "initials") == {title} and not taken
            else None
        )
    if kind == "first words" and len(words) > 2:  # of two words the first is a cut title
        made = " ".join(words[: int(rng.integers(1, len(words)))])
        small = made.split()[-1] in (*_BETWEEN, "of", "the", "and", "for", "no", "me", "my")
        return (
            made.title()
            if len(made) > 4
            and not small
            and _fits(names, made, "begins") == _fits(names, made, "stands in") == {title}
            else None
        )
    if kind == "cut" and len(title) > 8 and len(words) > 1:  # shorter ones are not cut
        made = title[: int(rng.integers(max(6, int(0.55 * len(title))), len(title) - 1))].rstrip()
        return made + "…" if _fits(names, made, "begins") == {title} and _clear(names, made, title) else None
    if kind == "nickname":
        return names[title]
    if kind == "joined" and title.isascii() and title.replace(" ", "").isalpha():
        return title.replace(" ", "")
    if kind == "and" and " and " in title:
        return title.replace(" and ", _pick(rng, [" & ", " + ", " n "]))
    return None


def _asked(rng, names, style):
    """Make a line that nobody could answer alone: a title that is not there, or a short form that fits two."""
    while True:
        title = _pick(rng, list(names))
        kind = _pick(rng, ["shares words", "shares words", "fresh", "goes on", "first word of two", "initials of two"])
        if kind == "first word of two":
            made = plain(title).split()[0]
            if len(made) > 3 and len(_fits(names, f"{made} ", "begins")) > 1 and not {plain(n) for n in names} & {made}:
                firsts = [name for name in names if plain(name).split()[0] == made]
                if len(firsts) > 1:
                    return made.title(), kind
        elif kind == "initials of two":
            made = "".join(word[0] for word in plain(title).split())
            same = [name for name in names if "".join(word[0] for word in plain(name).split()) == made]
            if len(made) > 1 and len(same) > 1 and made.isalpha() and made.isascii():
                return made.upper(), kind
        else:
            made = {"shares words": _title(rng, style), "fresh": f"{_pick(rng, _FRESH[0])} {_pick(rng, _FRESH[1])}",
                    "goes on": f"{title} {_pick(rng, ['Blues', 'Thrice', 'Again'])}"}[kind]  # fmt: skip
            far = min(DamerauLevenshtein.distance(plain(made), plain(name)) for name in names)
            inside = any(f" {plain(name)} " in f" {plain(made)} " for name in names)
            if kind == "goes on" or (far > 3 and not inside and not _fits(names, made, "stands in")):
                return made, kind


def _behind(rng):
    minutes, key, tempo, remark = (
        f"{rng.integers(2, 9)}:{rng.integers(60):02d}",
        _pick(rng, _KEYS),
        rng.integers(62, 180),
        _pick(rng, _REMARKS),
    )
    return _pick(rng, [*[""] * 8, f" {minutes}", f" ({minutes})", f"\t{minutes}", f" ({key})", f" - {key}", f" {tempo}bpm", f" ♩={tempo}", f" {key} {tempo}",
                       f" ({remark})", f" [{remark}]", f" - {remark}", f" – {remark}", " >", " →", "*", " (!)"])  # fmt: skip


def make_set(rng, names, style):
    """Type one set of about twenty songs."""
    size = int(rng.integers(14, 25))
    after, numbering, mark = size - int(rng.integers(0, 4)), _pick(rng, _NUMBERING), _pick(rng, [" > ", " / ", " → "])
    case = _pick(rng, [str, str, str, str.upper, str.lower])
    lines, left, encore = (
        [Typed(_pick(rng, _HEADINGS)), Typed("")],
        [str(one) for one in rng.permutation(list(names))],
        False,
    )
    while sum(len(line.meant) for line in lines) < size:
        at = sum(len(line.meant) for line in lines)
        if at >= after and not encore:
            encore = True
            lines.append(Typed(_pick(rng, _ENCORES)))
        if rng.random() < 0.15:  # about three a set
            text, kind = _asked(rng, names, style)
            meant = ((None, kind),)
        else:
            title, kind, text = left.pop(), "exact", None
            while text is None:
                kind = _pick(rng, _KINDS)
                text = _typed(rng, names, title, kind)
            meant = ((title, kind),)
            if (
                kind == "exact"
                and rng.random() < 0.15
                and re.fullmatch(r"[A-Za-z ]+", title + left[-1])
                and at + 1 < after
            ):
                text += mark + left[-1]
                meant = ((title, "segue"), (left.pop(), "segue"))
        lines.append(
            Typed(numbering.format(at + 1) + case(text) + ("" if kind == "cut" else _behind(rng)), meant, encore)
        )
    return lines
