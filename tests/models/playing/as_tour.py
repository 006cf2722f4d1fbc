"""Tables as one tour, as the models ask for it."""

from tourstats.tour import Tour


def as_tour(plays, shows, reviews, mistakes, rehearsals=None, **more):
    """A tour of these tables, in the order in which simulators give them."""
    runs = {} if rehearsals is None else {"rehearsals": rehearsals}
    return Tour.of(plays=plays, shows=shows, reviews=reviews, mistakes=mistakes, **runs, **more)
