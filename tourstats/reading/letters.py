"""Which letters the bytes of a text stand for."""

# ruff: noqa: RUF001, E501  # the signs that betray wrong letters are meant
from __future__ import annotations

import itertools
import re
import unicodedata
from collections import Counter
from dataclasses import dataclass

from tourstats.reading.asking import Asking

ENCODINGS = {
    "Western (Windows-1252)": "cp1252",
    "Central European (Windows-1250)": "cp1250",
    "Cyrillic (Windows-1251)": "cp1251",
    "Japanese (Shift-JIS)": "shift_jis",
}
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_TWICE = re.compile("[ÃÅÂÐ][\u0080-\u00bf€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ]")
_LINES = 3
_SAID = re.compile(rb"<meta[^>]*charset=[\"']?([\w-]{3,20})", re.IGNORECASE)
_LANGUAGES = (
    "àâæçéèêëîïôœùûüÿ", "äöüßé", "áéíñóúüªº", "àèéìòùî", "ãáàâçéêíóôõúü", "éèëïóüáö", "åäöéüæøà", "ąćęłńóśźż",
    "áčďéěíňóřšťúůýžäôľ", "áéíóöőúüű", "čćđšž", "ăâîșşțţ",
)  # fmt: skip
"""Letters with marks that stand beside each other in one language."""


@dataclass(frozen=True)
class Text:
    """A text, and the lines of it (from 1) that hold a byte which could not be read."""

    text: str
    doubtful: frozenset[int] = frozenset()


def decoded(data: bytes, asking: Asking | None = None) -> Text:
    """Text of bytes: a mark decides, then zero bytes mean UTF-16, then UTF-8, else the letters that look most like words.

    Examples
    --------
    >>> decoded("Żółta".encode("utf-16")).text, decoded("Café Noir".encode("cp1252")).text
    ('Żółta', 'Café Noir')

    """
    asking = asking or Asking()
    found = _certain(data)
    if found is None:
        found = _one_wrong_byte(data) or Text(_likeliest(data, asking))
    if len(_TWICE.findall(found.text)) > 1:
        asking.confirm("letters", "The file was once saved with the wrong letters: it holds signs such as "
                       f'"{_TWICE.findall(found.text)[0]}". Are its titles right?')  # fmt: skip
    return Text(found.text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", ""), found.doubtful)


def _certain(data: bytes) -> Text | None:
    page = _SAID.search(data[:4000])
    if page and page[1].lower() != b"utf-8":
        try:
            return Text(data.decode(page[1].decode()))
        except (LookupError, UnicodeDecodeError):
            pass
    for mark, name in _MARKS:
        if data.startswith(mark):
            return Text(data.decode(name, errors="replace"))
    if b"\x00" in data[:400]:
        little = data[1:400:2].count(0) >= data[:400:2].count(0)
        return Text(data.decode("utf-16-le" if little else "utf-16-be", errors="replace"))
    try:
        return Text(data.decode("utf-8"))
    except UnicodeDecodeError:
        return None


def _one_wrong_byte(data: bytes) -> Text | None:
    """UTF-8 with a few lines that are not: those alone are doubtful."""
    wrong: set[int] = set()
    lines, right = [], 0
    for number, line in enumerate(data.split(b"\n"), start=1):
        try:
            lines.append(line.decode("utf-8"))
            right += any(byte > 127 for byte in line)
        except UnicodeDecodeError:
            wrong.add(number)
            lines.append(line.decode("cp1252", "replace"))
    if len(wrong) <= right:
        return Text("\n".join(lines), frozenset(wrong))
    return None


def _likeliest(data: bytes, asking: Asking) -> str:
    tried: list[tuple[float, str, str]] = []
    for name, encoding in ENCODINGS.items():
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        tried.append((_oddness(text), name, text))
    if not tried:
        return data.decode("cp1252", "replace")
    best = min(tried, key=lambda one: one[0])
    near = max(best[0], 1.1 * best[0] if best[0] > 10 else 0)
    rivals = [one for one in tried if one[2] != best[2] and one[0] <= near]
    if not rivals:
        return best[2]
    offers = (best[1], *(name for _, name, _ in rivals))
    shown = "; ".join(f"{name}: {' / '.join(_telling(text, data))}" for _, name, text in (best, *rivals))
    answer = asking.choose(
        "letters", f"The letters of this file can be read in more than one way. {shown}", offers, best[1]
    )
    return next(text for _, name, text in (best, *rivals) if name == answer)


def _telling(text: str, data: bytes) -> list[str]:
    """The first lines in which the reading of the letters makes a difference."""
    lines = [number for number, line in enumerate(data.split(b"\n")) if any(byte > 127 for byte in line)]
    shown = text.split("\n")
    return [shown[number].strip()[:40] for number in lines[:_LINES] if number < len(shown)]


def _oddness(text: str) -> float:
    """How little a text looks like words: signs inside words, mixed scripts, capitals inside words, no vowels, letters of two languages."""
    odd = 0.0
    scripts: Counter[str] = Counter()
    for word in re.findall(r"\S+", text):
        odd += _odd_word(word.strip("\"'.,;:!?()[]-"), scripts)
    if "CJK" in scripts or "HIRAGANA" in scripts or "KATAKANA" in scripts:
        return odd
    marked = Counter(
        sign
        for sign in text.lower()
        if ord(sign) > 127 and sign.isalpha() and unicodedata.name(sign, "").startswith("LATIN")
    )
    strange = min(sum(times for sign, times in marked.items() if sign not in letters) for letters in _LANGUAGES)
    return odd + strange + scripts.total() - max(scripts.values(), default=0)


def _odd_word(word: str, scripts: Counter[str]) -> float:
    high = [sign for sign in word if ord(sign) > 127]
    if not high:
        return 0.0
    kinds = [unicodedata.name(sign, "?").split()[0] for sign in word if sign.isalpha()]
    scripts.update(unicodedata.name(sign, "?").split()[0] for sign in high if sign.isalpha())
    odd = float(len({"LATIN", "CYRILLIC", "GREEK"}.intersection(kinds)) > 1 or "HALFWIDTH" in kinds)
    odd += re.search("[a-z][\u3000-\u9fff]+[a-z]", word) is not None
    odd += any(unicodedata.category(sign)[0] in "SCN" or sign in "¹²³¼½¾ªº¿¡¶§" for sign in high)
    cased = any(a.islower() and b.isupper() and (ord(a) > 127 or ord(b) > 127) for a, b in itertools.pairwise(word))
    odd += 2 * cased + any(ord(a) > 127 and a.isalpha() and b.isdigit() for a, b in itertools.pairwise(word))
    odd += 2 * (len(word) > 3 and len(high) > 0.6 * len(word) and set(kinds) == {"LATIN"})
    return odd
