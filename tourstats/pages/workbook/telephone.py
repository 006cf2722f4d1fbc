"""The way in for a telephone: the machine's own address, a code that is good for some minutes, and its picture.

Whoever brings the code is known to the server from then on, on that device; the code itself is made of the server's
token and the clock, so that a page and the server agree on it without telling it to anybody.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
import secrets
import socket
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

OPEN = "TOURSTATS_TELEPHONE"
"""Set, to the address without a code, in the environment of pages that a telephone may come to."""
SECRETS = "TOURSTATS_SECRETS"
"""Names the folder in which the server keeps what makes it know a device again."""
GOOD_S = 600
"""How long a code is shown, in seconds; it is taken for as long again."""
LETTERS = 10
SAFETY = (
    "Whoever has the code within these minutes, and everybody who can read along in this network, can see and change "
    "your diary: the way is not encrypted. Use a network that you trust."
)


def code(token: str, now: float | None = None) -> str:
    """The code of these minutes.

    Examples
    --------
    >>> code("token", 0) == code("token", GOOD_S - 1) != code("token", GOOD_S)
    True

    """
    part = int((time.time() if now is None else now) // GOOD_S)
    made = hmac.new(token.encode(), f"telephone {part}".encode(), hashlib.sha256).digest()
    return base64.b32encode(made).decode()[:LETTERS]


def holds(typed: str, token: str, now: float | None = None) -> bool:
    """Whether a code is the one of these minutes or of those before.

    Examples
    --------
    >>> old = code("token", 0)
    >>> holds(old, "token", GOOD_S), holds(old, "token", 2 * GOOD_S), holds(old, "another", 0)
    (True, False, False)

    """
    at = time.time() if now is None else now
    good = [code(token, at - back) for back in (0, GOOD_S)] if token else []
    return any(hmac.compare_digest(typed.encode(), each.encode()) for each in good)


def own_address() -> str:
    """The address by which others in the network reach this machine, or this machine alone where there is none."""
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # an address for examples: nothing is sent to it
        return str(probe.getsockname()[0])
    return "127.0.0.1"


def link() -> str:
    """The whole address with the code of these minutes; empty where no telephone may come."""
    place, token = os.environ.get(OPEN, ""), os.environ.get("JUPYTER_TOKEN", "")
    return f"{place}telephone/{code(token)}" if place and token else ""


def picture(address: str) -> Any:  # noqa: ANN401  # segno ships no types
    """The address as a picture that a telephone reads."""
    import segno  # noqa: PLC0415  # only who opens the workbook to a telephone needs it

    return segno.make(address, micro=False)


def cookie_secret(folder: Path) -> bytes:
    """What signs the marks of known devices; kept for its owner alone, so that a device is known tomorrow too."""
    path = folder / "known-devices"
    with suppress(FileNotFoundError):
        kept = path.read_bytes()
        if len(kept) == 32:  # noqa: PLR2004  # as many as were written
            return kept
    folder.mkdir(parents=True, exist_ok=True)
    made = secrets.token_bytes(32)
    path.unlink(missing_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(made)
    return made
