"""Paper: a template of typst and the words for it, set as PDF or drawn, without a box for a sign that no font has.

Typst brings fonts for Latin, Greek, Cyrillic, Hebrew and Arabic; `noto-cjk-sans-jp-bold` brings Noto Sans CJK (SIL Open
Font License) for Chinese, Japanese and Korean; other scripts take a font of the machine. Paper is made to the rules of
accessible PDF, which forbid a sign without a picture in its font: so typst itself names each sign that would come out
as a box, and the caller sets the page again without it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from importlib.util import find_spec
from typing import Any, cast

import typst

FONTS = [
    # Upright and plain, if the machine has one; then what typst brings, then ours.
    *("Liberation Sans", "Arial", "Helvetica Neue", "Noto Sans", "DejaVu Sans"),
    *("Libertinus Serif", "New Computer Modern", "DejaVu Sans Mono", "Noto Sans CJK JP"),
]
_BOX = re.compile(r'the text `"((?:[^"\\]|\\.)*)"` could not be displayed')


def compiled(
    template: bytes,
    words: object,
    *,
    machine_fonts: bool = True,
    **settings: Any,  # noqa: ANN401  # of typst
) -> bytes:
    """Set a template, to which `words` arrive as JSON under the name `data`; PDF unless `format` says otherwise."""
    document, _ = typst.compile_with_warnings(
        template,
        ignore_system_fonts=not machine_fonts,
        font_paths=_font_folders(),
        sys_inputs={"data": json.dumps(words)},
        **({"format": "pdf", "pdf_standards": ["ua-1"]} | settings),
    )
    return cast("bytes", document)


def _font_folders() -> list[str]:
    """Where our own fonts are; the package holds nothing but its font, so it is found and not imported."""
    found = find_spec("noto_cjk_sans_jp_bold")
    return list(found.submodule_search_locations or []) if found else []


def printed(template: str, words: object, **settings: Any) -> tuple[bytes, set[str]]:  # noqa: ANN401  # of typst
    """Set a template as `compiled` does, and as `until_drawn` without the signs that no font here draws."""
    told = json.dumps(words, ensure_ascii=False)
    return until_drawn(
        lambda lost: compiled(template.encode(), json.loads(told.translate(dict.fromkeys(map(ord, lost)))), **settings)
    )


def until_drawn(make: Callable[[set[str]], bytes]) -> tuple[bytes, set[str]]:
    """Make a page, again without the signs that no font here draws, until all that is on it is drawn.

    Parameters
    ----------
    make
        Makes the page without the signs given to it.

    Returns
    -------
    page, lost
        The page, and the signs that it has to do without.

    """
    lost: set[str] = set()
    while True:
        try:
            return make(lost), lost
        except typst.TypstError as error:
            found = {sign for text in _BOX.findall(str(error)) for sign in _unescaped(text)} - lost
            if not found:
                raise
            lost = lost | found


def _unescaped(text: str) -> str:
    r"""Undo typst's way of writing a sign that cannot be seen, `\u{200d}`, or that has a meaning, `\"`."""
    return re.sub(r"\\u\{([0-9a-f]+)\}|\\(.)", lambda found: found[2] or chr(int(found[1], 16)), text)
