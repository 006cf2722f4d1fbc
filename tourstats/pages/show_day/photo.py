"""A photo of the set, read into the field where a set is pasted, and shown beside it while it is settled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as w

from tourstats.pages.kit.widgets import Said
from tourstats.problems import Problem
from tourstats.reading.photos import KINDS, as_jpeg, text_of_photos

READ = (
    "Compare the lines with the photo, then save. The photo stays on this machine and is not kept: only the text goes "
    "into the diary."
)


class PhotoOfSet:
    """Chooses photos and reads them; `choose` and `shown` are what a form shows."""

    def __init__(self, typed: w.Textarea, message: Said) -> None:
        self.typed, self.said = typed, message
        self.choose = w.FileUpload(
            accept=",".join(("image/*", *KINDS)),
            multiple=True,
            description="Photo of the set",
            layout=w.Layout(width="auto"),
        )
        self.shown = w.VBox([])
        self.choose.observe(self._chosen, names="value")

    def forget(self) -> None:
        """Show no photo any more."""
        self.choose.value, self.shown.children = (), ()

    def _chosen(self, change: Mapping[str, Any]) -> None:
        pages = [(str(file["name"]), bytes(file["content"])) for file in change["new"]]
        if not pages:
            return
        try:
            self.typed.value = text_of_photos(pages)
            self.shown.children = tuple(
                w.Image(value=as_jpeg(name, picture), format="jpeg", layout=w.Layout(max_width="28rem", width="100%"))
                for name, picture in pages
            )
        except Problem as problem:
            self.said.wrong(str(problem))
        else:
            self.said.done(READ)
