"""What columns are called, in the languages that people keep tables in."""

# ruff: noqa: E501  # a question is read in one piece
from __future__ import annotations

import re

from tourstats.reading.titles import fold

DATE, CITY, VENUE, ROOM, LEG, SONG, POSITION, ENCORE, NUMBER, SHOW, REMARK, COUNTRY = (
    "date", "city", "venue", "room", "leg", "song", "position", "encore", "number", "show", "remark", "country",
)  # fmt: skip
_NAMES = {
    DATE: "date datum day jour fecha data dato when showdate dateofshow gigdate dag päivä dzień tag дата 日付 日 日期 公演日 開催日 the_day",
    CITY: "city town ort stadt ville ciudad citta città cidade by miasto miejscowość miejsce plaats stad kaupunki место город 町 市 都市 場所 地域 開催地 place location where město",
    VENUE: "venue lokal hall halle salle local stage spielort sala lugar klub zaal 会場 зал площадка",
    ROOM: "room kind type raum kindofroom roomkind roomtype venuetype roomtype kindofvenue",
    LEG: "leg tour tourleg run abschnitt tournee trasa",
    SONG: "song songs title titles titel titre titolo título cancion canción canzone lied lieder stück stuck morceau songtitle track name tune sang låt lat utwór tytuł piosenka nummer "
    "песня название 曲 曲名 songname what_we_played title_of_work name_of_song song_title work werk composition setlist piece skladba píseň číslo_skladby",
    POSITION: "position pos no nr order slot songno songnumber trackno tracknumber setposition orden rang platz # lp nº n° № pořadí",
    ENCORE: "encore encores zugabe rappel bis enc part section",
    NUMBER: "number shownumber showno showofday showoftheday numberonday concertnumber",
    SHOW: "show showid gig concert konzert id gigid concertid gigno gignumber",
    REMARK: "remark remarks note notes comment comments bemerkung bemerkungen anmerkung anmerkungen uwagi notas note remarques info",
    COUNTRY: "country land pays país kraj страна 国 state region",
}  # fmt: skip
_NAME_OF = {
    fold(word.replace("_", " ")).replace(" ", ""): name for name, words in _NAMES.items() for word in words.split()
}
_WHERE = frozenset([
    "where", "wo", "ort", "lugar", "miejsce", "miejscowosc", "onde", "hvor", "donde", "ou", "dove", "gdzie", "kde", "gde", "mjesto", "lieu", "luogo", "sted",
    "stalle", "plats", "paikka", "missa", "var", "place", "places", "location", "lokacija", "locale",
])  # fmt: skip
"""Words that ask where, in the name of a column."""
HARMLESS = frozenset([
    "key", "tom", "tonart", "tuning", "tempo", "bpm", "length", "time", "duration", "dauer", "vocal", "vocals",
    "lead", "singer", "gesang", "vox", "feel", "click", "instrument", "guitar", "capo", "album", "year", "jahr",
    "country", "land", "state", "region", "weekday", "wochentag", "dow", "set", "part", "encore", "section",
    "room", "kind", "type", "leg", "tour", "writer", "composer",
])  # fmt: skip
"""Columns whose few different values say nothing about whether a row is a song that was played."""


def says_where(cell: object) -> bool:
    """Whether the name of a column asks where: "Wo genau", "Where we played"."""
    return isinstance(cell, str) and any(fold(word) in _WHERE for word in re.split(r"[\W_]+", cell))


def named(cell: object) -> str | None:
    """What a column is, by its name; None if it is not known.

    Examples
    --------
    >>> named("Datum"), named("Show no."), named("Tune / song"), named("Set"), named("Breakfast")
    ('date', 'number', 'song', None, None)

    """
    if not isinstance(cell, str):
        return None
    if cell.strip() in ("#", "№", "n°", "nº"):
        return POSITION
    names = {_NAME_OF.get(fold(part).replace(" ", "")) for part in cell.split("/")}
    return names.pop() if len(names) == 1 else None
