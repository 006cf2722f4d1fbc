"""A workbook with which a touring musician is ready for a set that changes every show.

    import tourstats as ts

    tour = ts.read()                            # one's own diary, else the demo tour
    ts.rates(tour.leg(), by="starts_by")        # mistakes by who starts the song, on the latest leg
    ts.forecast(tour).songs                     # what may come in tomorrow
    ts.chart.layoffs(ts.layoffs(tour))          # an Altair chart, to be gone on with
    ts.table(tour.shows.head())                 # any DataFrame with the look of the workbook's tables

Data goes one way through the house; each room has one limit on what it may import:

tables      every table: columns, types, units, allowed values
tour        all tables of one tour, and the parts of it: until a show, one leg
problems    exceptions: what was wrong, where, and what to do
reading     text, bytes and tables in, an account of every piece out; no store, no widget
diary       what is remembered: files and SQLite, nothing else
recording   sound in, tables out: where songs are, how fast, clips to hear
models      numbers from tables: numpy, pandas, scipy, statsmodels; nothing that reads, writes or draws
scale       ticket scans by the million: taken in, and counted on one machine or several
demo        the demo tour, made by a process whose truth is known
pages       what is seen: charts, forms, the stage sheet, the leg review; no statistics
answers     the functions above: a tour in, tables out
cli         the few commands
"""

from importlib import import_module

__all__ = [
    "brief",
    "changes",
    "chart",
    "compare",
    "control",
    "effects",
    "forecast",
    "freshness",
    "layoffs",
    "performances",
    "plan",
    "rates",
    "read",
    "returns",
    "song",
    "table",
    "track_record",
]


def __getattr__(name: str) -> object:
    """Load what was asked for when it is asked for: importing the package costs next to nothing."""
    if name == "chart":
        return import_module("tourstats.pages.chart")
    if name in __all__:
        return getattr(import_module("tourstats.answers"), name)
    raise AttributeError(f"tourstats has no {name!r}; it has {', '.join(__all__)}.")


def __dir__() -> list[str]:
    """Offer the public names where names are completed."""
    return sorted(__all__)
