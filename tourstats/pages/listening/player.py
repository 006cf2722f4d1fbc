"""The audio player: a clip with its keys, the tempo curve under it, and marks that come back."""

from __future__ import annotations

from pathlib import Path

import anywidget
import traitlets


class Player(anywidget.AnyWidget):
    """A clip of one song. Moments are seconds into the clip.

    sound: MP3. curve: [moment, beats a minute]. usual: beats a minute. sections, marks: [moment, words]. bars: moments.
    clips: goes up with each clip. at: where it begins. lead: where the song begins. clip_from: where it is in the
    recording. asks: what was pressed: what, at, n.
    """

    _esm = Path(__file__).with_name("player.js").read_text(encoding="utf-8")
    _css = Path(__file__).with_name("player.css").read_text(encoding="utf-8")

    sound = traitlets.Bytes(b"").tag(sync=True)
    title = traitlets.Unicode("Choose a song to hear").tag(sync=True)
    seconds = traitlets.Float(0.0).tag(sync=True)
    curve = traitlets.List().tag(sync=True)
    usual = traitlets.Float(0.0).tag(sync=True)
    sections = traitlets.List().tag(sync=True)
    bars = traitlets.List().tag(sync=True)
    marks = traitlets.List().tag(sync=True)
    clips = traitlets.Int(0).tag(sync=True)
    at = traitlets.Float(0.0).tag(sync=True)
    lead = traitlets.Float(0.0).tag(sync=True)
    clip_from = traitlets.Float(0.0).tag(sync=True)
    asks = traitlets.Dict().tag(sync=True)
