"""The band of the demo tour: its songs, its people, its towns, and the words its drummer writes.

Nothing here exists. The Weirhouse Nine are two violins, cello, accordion, piano, cornet, trombone, sousaphone and
drums; they play dances, airs and marches of their own. The person who keeps the diary is the drummer, in the band
since January 2031.
"""

# ruff: noqa: E501  # a sentence a line reads better than one cut in two

from __future__ import annotations

from dataclasses import dataclass

BAND = "The Weirhouse Nine"

PEOPLE = {
    "me": "drums and percussion, keeps the diary",
    "Ilka": "first violin, leads the band and writes the sets",
    "Odile": "accordion, musical director",
    "Bram": "sousaphone",
    "Runa": "cello",
    "Teo": "technician",
}


@dataclass(frozen=True)
class Dance:
    """What songs of one sort have in common."""

    name: str
    slowest: int
    fastest: int
    sections: tuple[str, ...]
    gear: tuple[str, ...]
    place: float
    """Where in a set the leader likes it, 0 early to 1 late."""


NOUN = {
    "brushes": "brushes", "soft mallets": "mallets", "finger cymbals": "finger cymbals", "woodblock": "woodblock",
    "small cowbell": "cowbell", "second floor tom": "floor tom", "chimes": "chime", "foot shaker": "shaker",
    "rods": "rods", "field snare": "street beat", "frame drum": "frame drum", "ankle bells": "ankle", "temple blocks": "blocks",
    "washboard": "washboard", "thimbles": "thimbles", "castanets on the stand": "castanets",
    "triangle": "triangle",
}  # fmt: skip
"""How a remark speaks of a thing that is set out."""

_STRAINS = ("intro", "first strain", "second strain", "trio", "last strain", "coda")
_SONG = ("intro", "verse", "chorus", "second verse", "second chorus", "bridge", "last chorus", "coda")
_AIR = ("intro", "first part", "second part", "cello solo", "return", "coda")

DANCES = {
    "A": Dance("air", 54, 76, _AIR, ("brushes", "soft mallets", "finger cymbals"), 0.50),
    "F": Dance("foxtrot", 116, 172, _SONG, ("brushes", "woodblock", "small cowbell"), 0.45),
    "H": Dance("hymn", 60, 82, _AIR, ("soft mallets", "second floor tom", "chimes"), 0.62),
    "J": Dance("jig", 112, 126, _STRAINS, ("foot shaker", "rods"), 0.60),
    "M": Dance("march", 98, 120, _STRAINS, ("field snare", "second floor tom"), 0.30),
    "O": Dance("odd-metre dance", 118, 160, _STRAINS, ("frame drum", "rods", "ankle bells"), 0.55),
    "P": Dance("polka", 108, 130, _STRAINS, ("temple blocks", "woodblock"), 0.40),
    "R": Dance("reel", 100, 118, _STRAINS, ("rods", "foot shaker"), 0.72),
    "S": Dance("stomp", 168, 216, _SONG, ("washboard", "small cowbell", "thimbles"), 0.68),
    "T": Dance("tango", 58, 66, _SONG, ("castanets on the stand", "brushes"), 0.38),
    "W": Dance("waltz", 92, 184, _SONG, ("brushes", "triangle", "soft mallets"), 0.48),
}

# A song a line: title | dance | other names. "^" opens a set, "$" closes it, "+" joins during the tour, "*" is newly
# released too, "-" is retired during the tour, "?" is being learned and not yet out.
_SONGS = """
Market Day Parade|M^|Parade
Lamplighters' Entrance|S^|Lamplighters
The Last Tram to Vellmouth|S$|Last Tram
Put Out the Lanterns|W$|Lanterns
Ferrywoman's Daughter|W|
Copper Spoon Polka|P|Copper Spoon
Salt on the Stairs|T|
Counting the Lockgates|O|Lockgates
A Coat with Two Linings|F|Two Linings
Millrace|R|
The Clockmaker's Apology|F|Apology
Rooks over Tarnholt|A|Rooks
Tanpit Stomp|S|
Eleven Empty Chairs|W|Eleven Chairs
Ørnens Vals|W|Eagle Waltz
Łódka|A|Little Boat
Mañana en el Molino|T|Molino
Été de Cendre|W|Summer of Ash
七月の渡し|A|July Ferry; Shichigatsu
Εννιά Γέφυρες|O|Nine Bridges; Ennia
1907|M|
Salt/Smoke|S|
Bellfounder's Jig|J|Bellfounder
The Orchard Ledger|A|Ledger
Postmistress|P|
Half a Moon in Quillhaven|F|Half a Moon
Thirteen Geese|R|All Thirteen
Quarry Hymn|H|
Vinegar and Honey|T|
Nobody Rows Alone|H|
Cobbler's Late Supper|P|
The Bridesmaid's Clogs|J|Clogs
Marsh Light|A|
Gravel Road Schottische|P|Schottische; Gravel Road
Tin Whistle in the Hayloft|R|Tin Whistle
Ilka's Long Waltz|W|Long Waltz
Cinders and Crab Apples|F|Crab Apples
Snow on the Sousaphone|M|Snowy Sousaphone
Left-Handed Tango|T|Left-Handed
Dunmarrow Fair|J|
The Ropewalk|R|
Candles for the Night Shift|H|Candles
Harrow and Harp|A|
Pepper Wind|O|
Wednesday's Accordion|P|Wednesday's
Old Money, New Rain|F|New Rain
The Weaver Counts to Nine|O|Weaver
Kites at Low Water|W|Kites at Low
Handcart Shuffle|S|Handcart
Lullaby for a Lighthouse|A|Lighthouse Lullaby
Cardboard Lions|M|
Grandfather's Bicycle|P|Bicycle
Rust and Roses in June|T|Rust and Roses
The Miller's Second Wife|J|Second Wife
Under the Viaduct|S|Viaduct
Herring Moon|W|
Blue Enamel|F|
Four Aunts' Reel|R|Four Aunts
Threshing Song|O|Threshing
Silver Thaw|A|
Quiet Side of Market Street|F|Market Street
Fjordens Brev|W|Letter from the Fjord
Goodbye, Small Harbour|H|Small Harbour
Oxcart|M|
Clinker Path|R|
Twelve Good Umbrellas|P|Umbrellas
The Glazier's Pause|A|Glazier
Netmender's Stomp|S|Netmender
Juniper Street|T|
Hold the Lantern Higher|M|Lantern Higher
Sparrows in the Organ Loft|J|Sparrows
Winter Post|W|
Nettle Soup|P|
Unposted|A|
A Fiddle Left in the Rain|W|Fiddle in the Rain
Saint Orla's Kettle|O|Saint Orla
Brickyard|S|
The Tailor's Shadow|T|Shadow
Kestrel Hill|R|
Bread at Four in the Morning|F|Bread at Four
Slow Barge, Quick Weir|J|Slow Barge
Moth and Wardrobe|T|
Last Sheaf (Bram's Way)|R|Last Sheaf
Down the Coal Steps|S|Coal Steps
Violets for the Conductor|W|Violets
Nachtkrämer|T|Night Pedlar
Skerrowby Lasses|J|
The Drowned Orchestra|H|Drowned
Penny Scales|F|
Velvet Buttons|P|
Hay Wagon Hymn|H|Hay Wagon
Linden|A|
Six Stones in a Row|O|Six Stones
Polka for the Absent|P|Absent
Grey Horses, Early Train|S|Grey Horses
The Seamstress Dreams|W|Seamstress
Sluice Gate|M|
Salt Marsh Galop|P|Galop
North Window|A|
Walnut Season|F|
Dance of the Ledger Clerks|O|Ledger Clerks
The Far Landing|H|Landing
Pigeon Loft Rag|S|Pigeon Loft
Leadline Reel|R|
Maria of the Toll House|T|Toll House
Frost Fair|J|
Only the Cello Knew|A|
The Long Table|M|
Boiler and Starlight|F|Boiler
Hollyhock Lane|P|Hollyhock
Cartwheel Waltz|W|Cartwheel
Thimble|J|
The Ferry Does Not Wait|S|Ferry Does Not Wait
Ropes and Ladders|O-|Ropes
Fool's Barometer|F-|Barometer
Mourning Dove March|M-|Mourning Dove
The Baker's Alibi|P-|Alibi
Tidewrack|A-|
Gaslight Gavotte|T-|Gavotte
Sugar Train|S*|
Wolf at the Wedding|O*|Wolf
What the River Kept|W*|River Kept
Señora Invierno|T*|Invierno
Dust on the Metronome|F*|Metronome
Hammer and Reed|R+|
Orrery|A+|
Yellow Door|P+|
The Ninth Chair|M?|
Rain Ledger|A?|
Kitchen Dance at Midnight|S?|Kitchen Dance
Amber Hours|W?|
Älgens Dröm|O?|Moose's Dream
"""

SONGS = [(title, marks, names) for title, marks, names in (line.split("|") for line in _SONGS.strip().splitlines())]

STARTS = ("drums", "violin", "accordion", "piano", "cornet", "cello", "sousaphone", "all on Ilka's nod")
SAMPLES = (
    "harbour bell", "tram", "rain on tin", "loom", "gulls", "typewriter", "music box", "station call", "mill wheel",
    "church clock", "skates on ice", "crowd at the fair",
)  # fmt: skip
TRACKS = ("click", "strings track", "click and low brass")

WATCH = {
    "A": ("{section}: no time until the cello breathes", "mallets down before the {section}", "snares off for the {section}"),
    "F": ("stop time in the {section}", "two-beat until the {section}, then four", "brushes to sticks before the {section}"),
    "H": ("roll swells over four bars in the {section}", "wait for Ilka's bow in the {section}", "chime on the last beat of the {section}"),
    "J": ("{section} has nine bars", "lift on beat two in the {section}", "no fill into the {section}"),
    "M": ("{section} repeats, snare at half volume", "street beat before the {section}", "cut-off with the trombone in the {section}"),
    "O": ("{section} turns to 11: 2 2 3 2 2", "extra beat at the end of the {section}", "{section}: count it in 7, not in 14"),
    "P": ("{section} softer the second time", "break of two bars before the {section}", "cymbal choke in the {section}"),
    "R": ("{section} three times, not two", "rods only until the {section}", "push into the {section}, the fiddles lead"),
    "S": ("four-bar break into the {section}", "washboard off the stand before the {section}", "{section}: stay under the cornet"),
    "T": ("breath before the {section}, no count", "castanets in the {section}, left hand only", "{section} stretches, watch Odile"),
    "W": ("slows into the {section}, a tempo on the pickup", "triangle at the top of the {section}", "{section} in one, not in three"),
}  # fmt: skip

# Town, place, kind of venue, how many it holds.
VENUES = [
    ("Vellmouth", "Corn Exchange", "theatre", 820),
    ("Vellmouth", "Pier Field", "festival", 5200),
    ("Tarnholt", "Weavers' Hall", "theatre", 640),
    ("Tarnholt", "The Under Loft", "club", 260),
    ("Quillhaven", "Opera on the Quay", "theatre", 1100),
    ("Quillhaven", "Harbour Meadow", "festival", 6400),
    ("Dunmarrow", "Dunmarrow Playhouse", "theatre", 480),
    ("Dunmarrow", "Fairground", "festival", 4100),
    ("Skerrowby", "Net Loft", "club", 210),
    ("Pellamar", "Teatro Pellamar", "theatre", 930),
    ("Pellamar", "Sala Norte", "club", 330),
    ("Grinsund", "Grinsund Kulturhus", "theatre", 710),
    ("Grinsund", "Ishallen", "arena", 3800),
    ("Lindermoor", "Old Glassworks", "club", 420),
    ("Lindermoor", "Moor Green", "festival", 7500),
    ("Harrowquay", "Empire Rooms", "theatre", 1250),
    ("Harrowquay", "Dockside Arena", "arena", 5200),
    ("Bellistad", "Bellistad Folkets Sal", "other", 380),
    ("Corvanne", "Théâtre des Tanneurs", "theatre", 860),
    ("Corvanne", "Prés de l'Écluse", "festival", 5900),
    ("Saint-Orle", "La Petite Forge", "club", 190),
    ("Marivaux-sur-Orle", "Salle des Fêtes", "other", 350),
    ("Kesterwick", "Assembly House", "theatre", 560),
    ("Kesterwick", "The Blind Cooper", "club", 180),
    ("Ambermouth", "Orangery Rooms", "theatre", 1400),
    ("Ambermouth", "Ambermouth Dome", "arena", 4600),
    ("Fallowick", "Studio Two, Hill Radio", "studio", 120),
    ("Zelborg", "Stadtsaal Zelborg", "theatre", 980),
    ("Zelborg", "Messehalle 3", "arena", 5600),
    ("Brennefurth", "Kohlenhof Brennefurth", "club", 450),
    ("Brennefurth", "Uferwiese", "festival", 8200),
    ("Wrzosnica", "Dom Tkaczy", "theatre", 620),
    ("Wrzosnica", "Studio Mokre", "studio", 90),
    ("Villarosal", "Plaza del Trigo", "festival", 4800),
    ("Villarosal", "Casino Viejo", "other", 300),
    ("Monte Graja", "Cine Avenida", "theatre", 540),
    ("Hallowby", "Hallowby Ballroom", "other", 520),
    ("Hallowby", "The Tin Swan", "club", 240),
    ("Brackenport", "Customs House", "theatre", 700),
    ("Brackenport", "Long Beach Common", "festival", 9100),
    ("Ystervik", "Gamla Bruket", "club", 310),
    ("Ystervik", "Hamnparken", "festival", 3900),
    ("Østerhavn", "Salonen", "theatre", 590),
    ("Østerhavn", "Radiosal B", "studio", 150),
    ("Larkhythe", "Chapel on the Dyke", "other", 280),
]  # fmt: skip

SPEECHES = ("", "", "", "Ilka, a minute", "", "", "", "", "", "Odile names the next two", "", "")
"""What is said before a song, in the order of the book."""
IF_THE_TRACK_FAILS = "straight on, drums count"
THINGS = (
    ("spare pack for the in-ears", "Teo", "wedge on my left", "charged, channel 4"),
    ("kick pedal", "drums", "the old one in the trap case", "beater tight"),
    ("bass drum key", "drums", "one on the hat stand", ""),
    ("switch for tracks", "Teo", "pad 8 starts them too", "batteries changed at noon"),
    ("fan", "Teo", "", "low, from the left"),
    ("water", "drums", "", "two bottles, no glass"),
)
"""What is out every night: what, who sees to it, what takes its place, what to look at."""

KINDS = {
    "entry": (
        "came in a bar early at the {section}", "late into the {section}, waited for a cue that never comes there",
        "missed the pickup into the {section}", "started the {section} with sticks, it is brushes",
        "one beat late at the top of the {section}, eyes on the sheet", "counted the rest before the {section} short",
    ),
    "ending": (
        "held the last roll a bar too long", "cut-off late, the brass was already gone",
        "played the short ending, we do the long one now", "last hit alone, everyone else had the fermata",
        "choked the cymbal, it should ring", "slowed the coda before Ilka did",
    ),
    "form": (
        "went into the {section} one time too early", "forgot the repeat of the {section}",
        "thought we were past the {section} already, covered with the ride", "lost the count in the {section}, back in on the next phrase",
        "played the new order of the {section} as the old one", "dropped out in the {section}, it was not my break",
    ),
    "groove": (
        "left hand too busy under the strings in the {section}", "swing went straight in the {section}",
        "kick not with the sousaphone in the {section}", "hat too open, the {section} lost its lift",
        "backbeat where the {section} wants two-feel", "brush pattern fell apart for two bars in the {section}",
    ),
    "tempo": (
        "pushed the pickup into the {section}", "dragged through the {section}, picked up again after it",
        "counted in about five beats too fast", "counted in too slow, Odile pulled it up by the {section}",
        "sat back after the fill into the {section}", "rushed the {section}, the fiddles had no room",
    ),
    "fill": (
        "fill ran over the bar line into the {section}", "flam instead of a single before the {section}",
        "started the fill too late and cut it short before the {section}", "rim on the last stroke of the fill",
        "same fill twice in the {section}, second one was meant to be air", "sticks clicked in the fill into the {section}",
    ),
    "dynamics": (
        "too loud under the cello in the {section}", "no swell into the {section}",
        "came down a bar after everybody at the {section}", "crash at the {section} swallowed the accordion",
        "ghost notes as loud as the backbeat in the {section}", "did not leave room for the piano in the {section}",
    ),
    "sound": (
        "snare buzz in the quiet {section}, forgot to throw the snares off", "hat chatter all through the {section}",
        "shaker swallowed the brushes in the {section}", "floor tom had gone flat by the {section}",
        "bass drum boomed in the {section}, damper had slipped", "sample came a beat late in the {section}, pad hit too softly",
    ),
    "other": (
        "dropped a rod in the {section}, one bar with one hand", "page stuck, {section} from memory",
        "triangle caught on the stand before the {section}", "looked for the mallets when the {section} had begun",
    ),
}  # fmt: skip
"""What goes wrong, by kind, in the words of the review."""

SONG_NOTES = (
    "Sing the {section} once before counting in; the tempo is in the melody.",
    "Ilka: lighter in the {section}, think of one foot dancing.",
    "The {section} falls into place when I listen to the piano's left hand only.",
    "Right hand on the hat edge from the {section} on, bell only last time through.",
    "Bram breathes in the bar before the {section}: go with that, not with the click.",
    "Odile wants the {section} drier. Two fingers on the snare.",
    "If it feels slow it is right. {tempo} on the metronome, no more.",
    "Do not fill into the {section}. The silence is the arrangement.",
    "Runa cues the end of the {section} with the scroll of the cello.",
    "Recorded tempo is {tempo}; live we have drifted up by four or five.",
    "Set the {gear} within reach of the left hand before the applause ends.",
    "Works better leading with the left in the {section}.",
)
PERSONAL_NOTES = (
    "Nervous about the {section} again. It went fine. Remember that it went fine.",
    "Ilka was short with me about the {section}; she was right about the tempo.",
    "Wrist tired by the {section}. Looser grip, and ice after the show.",
)
TRANSITION_NOTES = (
    "From {tempo} to {next_tempo}: hear the new tempo before the last chord of the old one.",
    "No applause gap here any more, Ilka goes straight on. Hands ready.",
    "Put down the {gear} during the last eight bars, not after them.",
    "{who_starts}: look up, not at the sheet.",
    "Teo needs four seconds for the accordion microphone. Play the roll until he nods.",
    "Odile talks between these two. Take a drink, then sticks in hand.",
    "The key drops a third and it feels slower than it is. Trust the count.",
)
ROOM_NOTES = {
    "theatre": (
        "Softer from the first bar: the room gives everything back. Smaller cymbal on the left.",
        "Wooden stage: bass drum walks. Rug and two weights.",
        "The quiet airs carry to the last row. Ghost notes are heard here.",
    ),
    "club": (
        "Low ceiling: hat closed, rods instead of sticks where it goes.",
        "No room for the second floor tom. Agree with Teo what replaces it before sound check.",
    ),
    "festival": (
        "Wind takes the brushes and the charts. Clips on, sticks for anything under the second violin.",
        "The change of bands is fifteen minutes: pre-mount all small percussion, count the stands twice.",
        "After a field, everything indoors is too loud for two days. Write it on the sheet.",
    ),
    "arena": (
        "The slap from the back wall comes on the eighth: do not listen to it, ears on the monitor.",
        "Longer way from the band than it looks. Big gestures for the cut-offs.",
    ),
    "studio": ("Radio hears the chair creak and the snare wires. Tape, and a folded cloth under the stool.",),
    "other": (
        "Church: two seconds of ring. Short strokes, nothing on the ride, tempo a hair slower.",
        "Ballroom people dance. Hold the tempo through the applause.",
    ),
}
SHOW_NOTES = (
    "Recording stops after song {position}; the card was full.",
    "Best night so far. Slept on the bus before, that is all I did differently.",
    "Long drive, no sound check, in time from the third song on.",
    "Ilka changed the encore while we stood in the wings.",
    "Monitor left side dead until song {position}.",
    "Cold hands outdoors. Warm up twenty minutes on the pad, not five.",
    "Half of the first rows were people from last night; they knew which songs were new.",
    "Power cut in song {position}; finished it without microphones and nobody left.",
)
ROOM_SONG_NOTES = (
    "Here, start the {section} a shade under tempo; it runs away otherwise.",
    "Leave out the {gear} here, nobody hears it.",
    "No roll into the {section} here, it blurs.",
)
