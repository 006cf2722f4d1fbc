"""Pages of a set as somebody photographs them: drawn, turned, shaded, blurred and kept as JPEG."""

# ruff: noqa: E501, PLR0913  # names of files, and the ways to spoil a page
import io
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

WIDTH, HEIGHT = 1240, 1754
FOLDERS = (Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), Path("/Library/Fonts"))
PRINT = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSerif.ttf", "LiberationSans-Regular.ttf", "LiberationSerif-Regular.ttf", "LiberationMono-Regular.ttf")  # fmt: skip
HAND = (
    *("ComicNeue-Regular.otf", "dkg.ttf", "Breip.ttf", "DancingScript-Regular.otf", "femkeklaver.ttf", "dkgIt.ttf"),
    *("Humor-Sans.ttf", "KaushanScript-Regular.otf", "Kristi.ttf", "BecauseWeBuild-Regular.otf", "ComicNeue-Bold.otf"),
)  # fmt: skip


def fonts(names):
    """Those of the fonts that are on this machine, by name."""
    there = {path.name: path for folder in FOLDERS if folder.exists() for path in sorted(folder.rglob("*.[ot]tf"))}
    return [there[name] for name in names if name in there]


def page(lines, font, rng, *, turned=0.0, shaded=True, blurred=0.6, size=46, quality=70, columns=1):
    """One page as the bytes of a JPEG; lines of the second column stand to the right of the first."""
    image = Image.new("RGB", (WIDTH, HEIGHT), (250, 249, 245))
    draw, face = ImageDraw.Draw(image), ImageFont.truetype(str(font), size)
    each = -(-len(lines) // columns)
    step = min(int((HEIGHT - 240) / max(each, 1)), int(2.1 * size))
    for at, line in enumerate(lines):
        column, row = divmod(at, each)
        x = 110 + column * (WIDTH - 160) // columns + int(rng.integers(-6, 7))
        draw.text((x, 110 + row * step + int(rng.integers(-4, 5))), line, font=face, fill=(25, 25, 45))
    image = _perspective(image, rng).rotate(turned, resample=Image.Resampling.BICUBIC, fillcolor=(120, 110, 100))
    pixels = np.asarray(image).astype(float)
    if shaded:
        slope = np.linspace(float(rng.uniform(0.55, 0.8)), 1.0, WIDTH)[None, :, None]
        pixels *= slope if rng.random() < 0.5 else slope[:, ::-1]
    pixels += rng.normal(0, 6, pixels.shape)
    image = Image.fromarray(pixels.clip(0, 255).astype("uint8")).filter(ImageFilter.GaussianBlur(blurred))
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=quality)
    return kept.getvalue()


def _perspective(image, rng):
    """The page as a camera sees it that is not straight above."""
    shift = [float(x) for x in rng.uniform(-0.02, 0.02, 2)]
    return image.transform(
        image.size,
        Image.Transform.PERSPECTIVE,
        (1, shift[0], 0, shift[1], 1, 0, shift[0] / WIDTH, shift[1] / HEIGHT),
        resample=Image.Resampling.BICUBIC,
        fillcolor=(120, 110, 100),
    )
