"""SipHash-2-4 (Aumasson and Bernstein 2012) of many texts at once, a step of it over thousands of them in one call.

No text becomes an object of Python, which would take longer than to hash it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Words = npt.NDArray[np.uint64]
Ints = npt.NDArray[np.int64]

START = np.frombuffer(b"uespemosmodnarodarenegylsetybdet", "<u8")
TURNS = np.array([[[13], [16]], [[17], [21]]], np.uint64)
HALF = np.uint64(32)
AT_ONCE = 1 << 14
"""Texts: enough that the calls cost little, few enough that they stay near the processor."""


def numbers(texts: pa.Array, key: str) -> Words:
    """A number of 64 bits for each text, under a key of sixteen letters; the longest texts are done last.

    A keyed hash like the diary's own: without the key nobody can try names against it. Its bits are shuffled once
    more (the end of SplitMix64), each number into another, as in the folders that are there.

    Examples
    --------
    >>> [hex(number) for number in numbers(pa.array(["", "a"]), "0123456789abcdef")]
    ['0xf7589b2e51c9b24a', '0x5273aa1ce27b377c']

    """
    _, ends, letters = texts.buffers()
    at = np.frombuffer(ends, np.int32)[texts.offset : texts.offset + len(texts) + 1].astype(np.int64)
    padded = np.append(np.frombuffer(letters or b"", np.uint8), np.zeros(8, np.uint8))
    word = np.ndarray(len(padded) - 7, "<u8", padded, strides=(1,))  # the eight bytes from each byte on
    start, size = at[:-1], np.diff(at)
    order = np.argsort((size >> 3).astype(np.uint16), kind="stable")
    hashed = np.empty(len(texts), np.uint64)
    for first in range(0, len(texts), AT_ONCE):
        some = order[first : first + AT_ONCE]
        hashed[some] = _shuffled(_hashed(word, start[some], size[some], np.frombuffer(key.encode(), "<u8")))
    return hashed


def _hashed(word: Words, start: Ints, size: Ints, key: Words) -> Words:
    """Hash texts in order of their words: those that have ended stand before `ended`, and wait."""
    words = size >> 3
    state: Words = np.empty((2, 2, len(start)), np.uint64)
    state[:] = (START ^ np.tile(key, 2)).reshape(2, 2).T[..., None]
    for number in range(words[-1] + 1):
        ended, going = np.searchsorted(words, [number, number + 1])
        read = word[start[ended:] + 8 * number]
        last = size[ended:going].astype(np.uint64)
        read[: len(last)] &= (np.uint64(1) << ((last & np.uint64(7)) << np.uint64(3))) - np.uint64(1)
        read[: len(last)] |= last << np.uint64(56)
        now = state[..., ended:]
        now[1, 1] ^= read
        _mix(now, 2)
        now[0, 0] ^= read
    state[0, 1] ^= np.uint64(255)
    _mix(state, 4)
    hashed: Words = np.bitwise_xor.reduce(state.reshape(4, -1))
    return hashed


def _mix(state: Words, rounds: int) -> None:
    """SipRound: one half of it with the first and third words beside the others, one with the first two in turn."""
    even, odd = state
    spare = np.empty_like(odd)
    for _ in range(rounds):
        for side, turns in zip((even, even[::-1]), TURNS, strict=True):
            np.add(side, odd, out=side)
            _turn(odd, turns, spare)
            odd ^= side
            _turn(side[0], HALF, spare[0])


def _turn(words: Words, by: Words | np.uint64, spare: Words) -> None:
    np.left_shift(words, by, out=spare)
    np.right_shift(words, np.uint64(64) - by, out=words)
    np.bitwise_or(words, spare, out=words)


def _shuffled(words: Words) -> Words:
    for shift, odd in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        words = (words ^ (words >> np.uint64(shift))) * np.uint64(odd)
    return words ^ (words >> np.uint64(31))
