"""Town, venue and number of each show, from whatever stands beside its day."""

# ruff: noqa: RUF001, E501  # the signs that people type are meant
from __future__ import annotations

import itertools
import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from tourstats.reading import headers
from tourstats.reading.asking import NO, YES, Asking
from tourstats.reading.cells import TEXT, kind_of, tight
from tourstats.reading.days import month_of, weekday
from tourstats.reading.headers import CITY, LEG, ROOM, VENUE
from tourstats.reading.known import Known
from tourstats.reading.layout import Draft, Night
from tourstats.reading.titles import fold
from tourstats.reading.vocabulary import is_word
from tourstats.reading.years import section_of
from tourstats.tables import ROOMS

PLACE = "place"
"""What a column is that holds a town, a venue or both."""
_ROOM_WORDS = {
    "theatre": "theater theatre teatro theaterhall operahouse hall konzerthaus concerthall",
    "arena": "arena stadium stadion arene", "club": "club bar pub keller", "studio": "studio radio tv",
    "festival": "festival openair open outdoor fest fields", "other": "other",
}  # fmt: skip
_ROOM_OF = {word: room for room, words in _ROOM_WORDS.items() for word in words.split()}
_VENUE = re.compile(
    r"\b(?:hall|theatre|theater|theatro|teatr\w*|club\w*|klub\w*|arena|ballroom|pavil\w+|stadium|auditorium|opera|saal|rooms?|fields?|bar|baari|pub|pal(?:ace|ais|azzo)|exchange|shed|studio|gasometer|loft|"
    r"tavern|taverna|casino|cinema|kino|barn|church|chapel\w*|kirche|kirke\w*|kyrka\w*|kerk|eglise|iglesia|chiesa|igreja|ermita|oratorio|kosciol|salon|salle|sala|house|haus|huis|hus\w*|centre|center|centr[eo]|garden|"
    r"works|yard|marquee|tent|tenda|hotel|hostel|library|museum|gallery|lounge|cellar|keller|cave|inn|dock\w*|depot|warehouse|academy|institute|institut|court|arms|stage|dom|scena|scene|mill|factory|fabrik|forum|"
    r"amphitheatre|terrace|rink|zelt|cafe|kaffe|caffe|hangar|grange|foyer|plaza|plac|piazza|place|torvet|torget|rynek|praca|circolo|cercle|casa|pena|balera|bagno|festa|festival\w*|fest|bodega|adega|parlour|pavilion|bandstand|"
    r"memorial|drill|vault|halle|krug|scheune|gleis|jugendhaus|gasthaus|gasthof|kro\w*|stue\w*|naustet|laven|lada|loge\w*|brygg\w*|magasinet|pakhuis\w*|zaal|schuur|poppodium|talo|tori|remiza|stodola|swietlica|school|schule|ecole|escuela|union|legion|basement|lawn|park)\b"
    r"|(?:halle|theater|saal|zaal|haus|haus|huset|husk?|huis|kirche|kirken|kerk|keller|scheune|bahnhof|stadl|teatern?|klubben|talo|kroen?|salen|stuen|hotellet|stedet|laden|ladan|museet)\b"
    r"|喫茶|ホール|会館|講堂|公民館|ライブハウス|カフェ|劇場|体育館|教会|酒場|클럽|극장|회관|剧场|酒吧"
)
_ARTICLE = re.compile(r"(?:the|le|la|les|l|el|il|lo|het|der|die|das|den|det|ye)\s", re.IGNORECASE)
_NUMBER = re.compile(
    r"\(?\b(?:(?:show|gig|concert|set)\s*(?:#|no\.?)?\s*([12])(?:\s*(?:of|/)\s*2)?\b|([12])(?:st|nd|\.)\s+(?:show|gig|concert|house)\b|(early|matin[eé]e|afternoon|first)\s+(?:show|house)\b|(late|evening|second)\s+(?:show|house)\b|(matin[eé]e|early)\b(?=\W*(?:$|\d|\())|(late|evening|soir[ée]e)\b(?=\W*(?:$|\d|\()))\)?",
    re.IGNORECASE,
)
_LEAST_LIKE = 0.25
"""How much more like venues one of two places has to read for it to be taken for them unasked."""
_MOST_SAID = 6
"""Words behind a town that are taken off where they stand behind nearly every one."""
_FEW_WORDS = 3
_AGAIN = 0.7
"""Share of different words in a frame up to which these are people who come again, and no places."""
_FEW = 0.3
"""Share of shows with two pieces up to which the first of them is what the others have alone."""
_SHORT = 4
"""Letters up to which capitals are a venue's initials."""
_SPLIT = re.compile(
    r"\s*[,;@|/\t\n]\s*|\s+[-–—·•]\s+|\s*[()（）]\s*|:\s+|[!?]+(?:\s+|$)|(?<=[^\W\d_]{4})\.\s+(?=\S+\s+\S)"
)
_LAND = re.compile(r"(?<=[^\W\d_]),\s+([A-Z]{2})(?=\s*$|\s+[-–—]\s)|\s*\([A-Z]{2}\)")
"""The state or the land behind a town: "Ostby, TN" is its name, "Ostby (SE)" has it beside."""
_OF_LAND = "\ue000"
_EAST = re.compile(r"([\u3040-\u9fff]+)\s+(.+)")
"""A town, and its venue, which may be of several words, in a script that has no other spaces."""
_SPLIT_ELSE = re.compile(r"\s+at\s+|(?<=[^\W\d_]{4})\.\s+")
"""What parts town and venue, and what may where nothing else does: "Basement at Ray's" is one place."""
_NOISE = re.compile(
    r"^(?:(?:venue|town|city|ort|stadt|place|day)(?=\s*[:.–-]|\W*$)|set\s?-?list|set|sets|songs?|gig|show|concert|played|datum|date|tour|(?:live )?(?:in|at)|live(?=\s*[:.–-]|\W*$)|the set|tonight|the night|last night|just a[f]+ stage|concierto|koncert|konzert|the other night|thank you|thanks|danke|merci|gracias|grazie)\b[\s:.–-]*",
    re.IGNORECASE,
)
_SAID_IN = re.compile(
    r"((?:[^\W\d_][\w'’]*\s+){0,5}(?=[^\W\d_])[^\WA-ZÀ-ÖØ-Þ][\w'’]*)\s+(?:in|at|à|en|em|i|w|v|ve|na|på|te)\s+(?=[A-ZÀ-ÖØ-ÞĀ-ž])(.+)"
)
"""What is said before a town, and the town: "what we did in Ostby"; before "in" stands a word in small letters."""
_NEXT_NAME = re.compile(r"[.,;|]?\s+(?=[^\W\d_]+\s?:\s)")
"""What parts two things that a line names: "Venue: Salt Hall. Doors: 19:30"."""
_IN = re.compile(r"^(?:in|at|à|en|em|i|w|v|ve|na|på|te)\s+(?=[A-ZÀ-ÖØ-ÞĀ-ž])")
_AROUND = " .-–—:*_#=\"'【】"
_NOT_A_PLACE = re.compile(
    r"[\W\d_]*|\d{1,2}\s?(?:[ap]\.?m\.?|uhr|h)|.*\d{1,2}[:.]\d{2}.*|.*\b(?:songs?|min(?:utes)?|doors)\b.*|sound[\s-]?check\b\W*(?:\d.*)?|(?:no|nr|gig|show|concert)?\W*\d+\W*",
    re.IGNORECASE,
)


def settle(draft: Draft, known: Known) -> None:
    """Say which of the things that stand beside a day is the town, which the venue."""
    for night in draft.nights:
        _take_named(night)
    _leave_formulas(draft.nights)
    _number_twins(draft.nights)
    _open_rooms(draft)
    _open_cities(draft)
    slots = _without_common([_slots(night) for night in draft.nights])
    played = [parts for night, parts in zip(draft.nights, slots, strict=True) if night.items] or slots
    order = _order(played, known, draft.asking)
    for night, parts in zip(draft.nights, slots, strict=True):
        roles = (CITY,) if len(parts) == 1 and len(order) > 1 and not reads_like_venue(parts[0]) else order
        if CITY in night.said and len(parts) == 1:
            roles = (VENUE,)
        for role, place in zip(roles, parts, strict=False):
            if role == CITY and _is_described(place) and _is_no_city(draft, place):
                continue
            if role == CITY or _may_name(place, parts):
                night.said.setdefault(role, place)
        _by_what_is_known(night, parts, known)
    _without_counts(draft.nights)


def _leave_formulas(nights: Sequence[Night]) -> None:
    """What says the same of several shows but for one word, or behind a colon, is no place if something else stands there.

    People come again, who drove or played before; towns in a frame of words do not: "Odile drove", "Support: Tin Owls".
    """
    frames: dict[tuple[str, ...], list[str]] = defaultdict(list)
    forms = {text: list(_frames(text)) for night in nights for text in night.places}
    for night in nights:
        for text in {*night.places}:
            for frame, value in forms[text]:
                frames[frame].append(value)
    said = {frame for frame, values in frames.items() if frame[-1] == ":" and len(values) > 1}
    said |= {
        frame
        for frame, values in frames.items()
        if len(values) > _FEW_WORDS and 1 < len({*values}) <= _AGAIN * len(values)
    }
    for night in nights:
        others = [text for text in night.places if not any(frame in said for frame, _ in forms[text])]
        night.places = others or night.places


def _frames(text: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """A text with a gap for each of its words, and what stands there; or with one for all that stands behind a colon."""
    name, colon, value = text.partition(": ")
    words = fold(text).split()
    if colon:
        yield (fold(name), ":"), value
    for at, word in enumerate(words if 1 < len(words) <= _MOST_SAID else ()):
        yield (*words[:at], "", *words[at + 1 :]), word


def _without_counts(nights: Sequence[Night]) -> None:
    """Numbers that count the shows of a tour, "Show 1", "Show 2" on two days, are none of shows of one day."""
    often = Counter(night.day for night in nights)
    if len(nights) > 1 and all(night.number is None or often[night.day] == 1 for night in nights):
        for night in nights:
            night.number = None


def _number_twins(nights: Sequence[Night]) -> None:
    """Number two shows of one day, one town and one venue, and take off the word in which their headings differ.

    Where it is no piece of its own behind two others, the same two words have to tell another two shows apart.
    """
    days = [night.day for night in nights if night.day]
    later_first = days != sorted(days) and days == sorted(days, reverse=True)
    twins = []
    for one, other in itertools.combinations(nights, 2):
        if one.day is None or one.day != other.day or one.number or other.number:
            continue
        words = [re.findall(r"\S+", " ".join(night.places)) for night in (one, other)]
        apart = {pair for pair in zip(*words, strict=False) if pair[0] != pair[1]}
        if len(words[0]) == len(words[1]) > _FEW_WORDS - 1 and len(apart) == 1:
            twins.append(((one, other), apart.pop()))
    often = Counter(pair for _, pair in twins)
    for both, pair in twins:
        pieces = [part for part in _SPLIT.split(" ".join(both[0].places)) if re.search(r"\w", part)]
        framed = all(word.endswith(")") and word != word.strip("()") for word in pair)
        if (
            not framed
            and often[pair] == 1
            and (len(pieces) < _FEW_WORDS or pieces[-1].strip(_AROUND) != pair[0].strip("()" + _AROUND))
        ):
            continue
        for number, (night, word) in enumerate(zip(both, pair, strict=True), start=1):
            form = rf"(?<!\S){re.escape(word)}(?!\S)"
            night.places = [re.sub(form, " ", text).strip() for text in night.places]
            night.number = 3 - number if later_first else number


def roles_of(columns: Mapping[int, tuple[str | None, Sequence[str]]]) -> dict[int, str | None]:
    """What each column or row beside the days says of the shows: by its name, else by how its values read.

    Examples
    --------
    >>> roles_of({1: ("Place", ["The Kiln"]), 2: ("Town", ["Ostby"]), 3: ("Driver", ["Ann"]), 4: ("Club", ["Loft"])})
    {1: 'venue', 2: 'city', 3: None, 4: 'place'}

    """
    roles = {column: _role_of(name, values) for column, (name, values) in columns.items()}
    towns = [column for column, role in roles.items() if role == CITY]
    town = next((column for column in towns if not headers.says_where(columns[column][0])), next(iter(towns), None))
    roles |= dict.fromkeys((column for column in towns if column != town), VENUE)
    venues = [column for column, role in roles.items() if role == VENUE]
    venues.sort(key=lambda column: headers.named(columns[column][0]) != VENUE)
    return roles | dict.fromkeys(venues[1:], PLACE)


def _role_of(name: str | None, values: Sequence[str]) -> str | None:
    texts = [value for value in values if value]
    role = headers.named(name)
    if role in (CITY, VENUE, LEG, ROOM):
        return role
    if role is not None or not texts or sum(kind_of(text) == TEXT for text in texts) < 0.8 * len(texts):
        return None
    words = re.split(r"[\W_]+", name or "")
    own = 2 * len(set(texts)) >= len(texts) or any(map(reads_like_venue, texts))
    if name and own and fold(name) != "house" and (reads_like_venue(name) or VENUE in map(headers.named, words)):
        return VENUE
    if headers.says_where(name) or 2 * sum(map(reads_like_venue, texts)) > len(texts):
        return PLACE
    return None


def room_of(text: str) -> str | None:
    """The kind of room that a text names."""
    word = fold(text)
    parts = [word, word.replace(" ", ""), *word.split()]
    return next(
        (part if part in ROOMS else _ROOM_OF[part] for part in parts if part in ROOMS or part in _ROOM_OF), None
    )


def _open_rooms(draft: Draft) -> None:
    """A column of rooms that holds no kinds of rooms holds the venues."""
    rooms = [room for night in draft.nights if (room := night.said.get(ROOM))]
    kinds = sum(
        room == room.lower() or fold(room) in ROOMS or fold(room).replace(" ", "") in _ROOM_OF for room in rooms
    )
    if rooms and 2 * kinds < len(rooms) and not any(VENUE in night.said for night in draft.nights):
        for night in draft.nights:
            night.said |= {VENUE: night.said[ROOM]} if ROOM in night.said else {}


def _is_described(place: str) -> bool:
    """Whether what stands for a town is half a sentence in small letters: "that place with all the stairs"."""
    words = place.split()
    return sum(word[:1].islower() for word in words) > max(_FEW_WORDS, len(words) / 2)


def _is_no_city(draft: Draft, place: str) -> bool:
    said = draft.asking.choose(f"city: {place}", f'Is "{place}" the name of a city?', (NO, YES), NO, value=place)
    return said == NO


def _may_name(place: str, parts: list[str]) -> bool:
    """Whether a piece may be a venue: not half a sentence, nor a word in small letters beside a town with a capital."""
    words = place.split()
    said = sum(word[:1].islower() for word in words)
    if said > _FEW_WORDS and said > len(words) / 2 and not reads_like_venue(place):
        return False
    small = place == place.lower() != place.upper() and not any(map(str.isdigit, place))
    return (
        not small or all(part == part.lower() for part in parts) or (reads_like_venue(place) and room_of(place) is None)
    )


def _take_named(night: Night) -> None:
    """Of what stands beside the day and above the songs, take what says itself what it is: "Venue: Salt Hall"."""
    rest = []
    heads = [item.text for item in night.head if not (item.text.endswith(".") and len(item.text.split()[-1]) > _SHORT)]
    for text in [*night.places, *heads]:
        for piece in _NEXT_NAME.split(text) if headers.named(text.partition(":")[0].strip(_AROUND)) else [text]:
            name, _, value = piece.partition(":")
            role, value = headers.named(name.strip(_AROUND)), value.strip(_AROUND)
            if role is None and piece is text:
                rest.append(text)
            elif role in (CITY, VENUE) and value:
                night.said[role], night.named = value, True
    night.places = rest


def _open_cities(draft: Draft) -> None:
    """A column of cities, or of venues, that holds "Ostby, Assembly Hall" holds both: most of what has two parts reads so."""
    for role, other in ((CITY, VENUE), (VENUE, CITY)):
        said = [text for night in draft.nights if (text := night.said.get(role))]
        pieces = [[part for part in _SPLIT.split(text) if part and not _NOT_A_PLACE.fullmatch(part)] for text in said]
        pairs = [parts for parts in pieces if len(parts) == 2]
        halls = 2 * sum(any(map(reads_like_venue, pair)) for pair in pairs) > len(pairs)
        most = len(pairs) >= max(3, 0.8 * len(said))
        apart = most and len({tight(pair[1]) for pair in pairs}) > 0.7 * len(pairs)
        framed = sum("(" in text for text in said) >= max(3, 0.8 * len(said))
        both = halls or apart or framed if role == CITY else apart
        if both and not any(other in night.said for night in draft.nights):
            for night in draft.nights:
                if (text := night.said.pop(role, None)) is not None:
                    night.places.insert(0, text)


def _slots(night: Night) -> list[str]:
    """Pieces of what stands beside the day, without the number of the show."""
    slots: list[str] = []
    for text in night.places:
        if _is_sentence(text):
            continue
        rest = _LAND.sub(lambda found: f"{_OF_LAND}{found[1]}" if found[1] else "", text)
        match = _NUMBER.search(rest)
        if match:
            night.number = night.number or int(match[1] or match[2] or (1 if match[3] or match[5] else 2))
            rest = f"{rest[: match.start()]} {rest[match.end() :]}"
        parts = [part for part in _SPLIT.split(rest) if re.search(r"\w", part)]
        east = _EAST.fullmatch(parts[0]) if len(parts) == 1 else None
        for part in east.groups() if east else parts if len(parts) > 1 else _SPLIT_ELSE.split(rest):
            bare = re.sub(r"^[\u2500-\u27bf\U0001f300-\U0001faff\ufe0f\s]+", "", part).strip(_AROUND)
            while (less := _IN.sub("", _NOISE.sub("", bare))) != bare:
                bare = less
            said = _SAID_IN.fullmatch(bare)
            for place in (bare,) if said is None else (said[2], said[1]) if reads_like_venue(said[1]) else (said[2],):
                if (
                    place
                    and not _NOT_A_PLACE.fullmatch(place)
                    and not _is_month(place)
                    and len(tight(place)) > 1
                    and tight(place) not in map(tight, slots)
                ):
                    slots.append(place.replace(_OF_LAND, ", ").strip())
    return slots


def _is_month(text: str) -> bool:
    """Whether a text is a month, a year or a weekday, as above some of the shows."""
    named = len(text) > len("Wed") and weekday(text) is not None
    return named or section_of(text) is not None or month_of(text) is not None


def _is_sentence(text: str) -> bool:
    """Whether what stands beside a day is a sentence, and names no place."""
    words = text.split()
    return len(words) > _FEW_WORDS and text.rstrip().endswith((".", "!", "?")) and not re.search(r"[.,;/–—-]\s", text)


def _without_common(slots: list[list[str]]) -> list[list[str]]:
    """Pieces without those, and without the words at either end, that stand beside nearly every day: "tonight"."""
    if len(slots) < 3:
        return slots
    pieces = Counter(tight(piece) for parts in slots for piece in parts)
    most = 0.8 * len(slots)
    texts = [piece.split() for parts in slots for piece in parts if pieces[tight(piece)] <= most]
    begins = Counter(tight(words[0]) for words in texts if len(words) > 1)
    common: set[str] = set()
    for _ in range(_MOST_SAID):
        ends = Counter(tight(words[-1]) for words in texts if len(words) > 1)
        found = {word for word, times in ends.items() if times > most and not reads_like_venue(word)}
        if not found:
            break
        common |= found
        texts = [words[:-1] if len(words) > 1 and tight(words[-1]) in found else words for words in texts]
    left = []
    for parts in slots:
        kept = []
        for piece in parts:
            words = piece.split()
            if pieces[tight(piece)] > most:
                continue
            while len(words) > 1 and tight(words[-1]) in common:
                words.pop()
            while len(words) > 1 and begins[tight(words[0])] > most:
                words.pop(0)
            kept.append(" ".join(words).rstrip(","))
        left.append(kept or parts[:1])
    return left


def _order(slots: list[list[str]], known: Known, asking: Asking) -> tuple[str, ...]:
    """Which piece is the town: not the one that reads like a venue; a venue stands in one town, a town may have several."""
    pairs = [parts for parts in slots if len(parts) > 1]
    alone = [parts[0] for parts in slots if len(parts) == 1]
    if (
        alone
        and not pairs
        and sum(map(reads_like_venue, alone)) > 0.5 * len(alone)
        and not any(tight(one) in known.cities for one in alone)
    ):
        return (VENUE,)
    if not pairs:
        return (CITY,)
    ahead: dict[str, set[str]] = defaultdict(set)
    behind: dict[str, set[str]] = defaultdict(set)
    for parts in pairs:
        ahead[tight(parts[0])].add(tight(parts[1]))
        behind[tight(parts[1])].add(tight(parts[0]))
    several = sum(len(some) > 1 for some in ahead.values()) - sum(len(some) > 1 for some in behind.values())
    differ = [_venue_like(parts[0]) - _venue_like(parts[1]) for parts in pairs]
    like = (sum(max(-2.0, min(2.0, one)) for one in differ) - 1.5 * several) / len(pairs)
    sure = any(tight(part) in known.cities for parts in pairs for part in parts[:2])
    if len(pairs) < _FEW * len(slots) and not sure and not any(reads_like_venue(parts[0]) for parts in pairs):
        return (CITY, VENUE)
    if abs(like) < _LEAST_LIKE and not sure:
        first, second = pairs[0][:2]
        votes = sum(one > 0 for one in differ) - sum(one < 0 for one in differ)
        offers = (first, second) if votes <= 0 else (second, first)
        said = asking.choose("city", f'Which is the city, "{first}" or "{second}"?', offers, offers[0], value=first)
        return (VENUE, CITY) if said == second else (CITY, VENUE)
    return (VENUE, CITY) if like > 0 else (CITY, VENUE)


def _venue_like(text: str) -> float:
    """How much a text reads like a venue: by its words, an article, a number, its length; what is shouted is a town."""
    words = 0.5 * all(map(is_word, fold(text).split()))
    like = (
        words + 2.0 * reads_like_venue(text) + 0.8 * (_ARTICLE.match(text) is not None) + 0.3 * (len(text.split()) - 1)
    )
    return (
        like
        + 0.8 * any(sign.isdigit() or sign in "&'’" for sign in text)
        - 1.0 * (text.isupper() and len(tight(text)) > _SHORT)
    )


def reads_like_venue(text: str) -> bool:
    """Whether a text has a word for a house in which bands play: "Salt Hall"."""
    return _VENUE.search(fold(text)) is not None


def _by_what_is_known(night: Night, parts: list[str], known: Known) -> None:
    """What the tour knows goes before what the order of the pieces says."""
    for part in parts:
        if tight(part) in known.cities:
            if tight(night.said.get(VENUE, "")) == tight(part):
                night.said.pop(VENUE)
            night.said[CITY] = known.cities[tight(part)]
        elif tight(part) in known.venues:
            if tight(night.said.get(CITY, "")) == tight(part):
                night.said.pop(CITY)
            night.said[VENUE] = known.venues[tight(part)]
    home = known.home.get(tight(night.said.get(VENUE, "")))
    if home and CITY not in night.said:
        night.said[CITY] = known.cities[home]
