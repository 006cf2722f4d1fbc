"""How well and how fast a photographed set is read.

Run with `python benchmarks/photo.py [FIRST_SEED] [PAGES]` from the checkout, with the extra `photo` and the fonts of
`.ci/run`. Pages are drawn in print and in fonts made after handwriting, with perspective, shadow, a turn of up to four
degrees, blur and noise, and kept as JPEG; half of them are numbered, a quarter in capitals. Every line that is a song
counts: sure and right, asked about (and whether the right title was among those offered), not found, or sure and wrong.
The last figures are in `photo.md`.
"""

import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.reading import drawing, noise_second
from tourstats.reading.photos import PhotoProblem, text_of_photos
from tourstats.reading.sets import read_set

SONGS = 20


def page(rng, font, titles):
    """Lines of a page, the songs that stand on it, and the picture."""
    songs = [str(song) for song in rng.permutation(titles)[: SONGS + int(rng.integers(0, 4))]]
    numbered, loud = rng.random() < 0.5, rng.random() < 0.25
    lines = [f"{at}. {song}" if numbered else song for at, song in enumerate(songs, start=1)]
    for at in rng.choice(len(lines), 3, replace=False):
        lines[at] += f" ({rng.choice(['short', 'new ending', 'no click', 'brushes'])})"
    lines.insert(len(songs) - 2, "ENCORE")
    lines = [line.upper() for line in lines] if loud else lines
    drawn = {
        "turned": float(rng.uniform(-4, 4)),
        "blurred": float(rng.uniform(0.3, 1.1)),
        "quality": int(rng.integers(50, 91)),
    }
    return songs, drawing.page(lines, font, rng, **drawn)


def tally(songs, read):
    """What became of each song of a page."""
    found = dict(zip(read.song.dropna(), read.position[read.song.notna()], strict=True))
    offered = {song for row in read[~read.sure].candidates for song in row}
    counts = Counter(wrong=sum(song not in songs for song in found))
    for song in songs:
        counts["right" if song in found else "asked, offered" if song in offered else "asked or not found"] += 1
    return counts


def main(first, pages):
    """Read the pages of each kind and print the counts."""
    for kind, names in (("print", drawing.PRINT), ("handwriting", drawing.HAND)):
        fonts = drawing.fonts(names)
        counts, seconds, by_font = Counter(), [], defaultdict(Counter)
        for at in range(pages // 2):
            rng = np.random.default_rng([first, at])
            titles = list(noise_second.repertoire(rng, "dances" if at % 3 == 0 else "phrases", 132))
            titles = [title for title in titles if title.isascii()]
            font = fonts[at % len(fonts)]
            songs, picture = page(rng, font, titles)
            began = time.perf_counter()
            try:
                found = tally(songs, read_set(text_of_photos([("page.jpg", picture)]), titles))
            except PhotoProblem:
                found = Counter({"photograph again": len(songs)})
            seconds.append(time.perf_counter() - began)
            counts += found
            by_font[font.name] += found
        lines = sum(counts.values()) - counts["wrong"]
        shares = {name: f"{count} ({count / lines:.2%})" for name, count in counts.items()}
        print(f"{kind}: {pages // 2} pages, {lines} lines, {len(fonts)} fonts: {shares}", flush=True)
        print(f"  {np.median(seconds):.1f} s a page (median), the slowest {max(seconds):.1f} s")
        for name, found in sorted(by_font.items()):
            print(f"  {name:<32} {dict(found)}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 700, int(sys.argv[2]) if len(sys.argv) > 2 else 60)
