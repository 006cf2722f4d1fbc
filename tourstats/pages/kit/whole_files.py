"""Files that are whole or not there: what was there before stays until the new one is complete."""

from __future__ import annotations

from pathlib import Path


def write_whole(path: Path, content: bytes | str) -> None:
    """Write a file so that nobody ever finds half of it, whatever happens meanwhile.

    Parameters
    ----------
    path
        Where; its folder is made if it is not there.
    content
        What stands in it; text is written as UTF-8.

    Raises
    ------
    OSError
        If it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> sheet = Path(tempfile.mkdtemp()) / "sheets" / "sheet.html"
    >>> write_whole(sheet, "<p>Ferry</p>")
    >>> sheet.read_text(), len(list(sheet.parent.iterdir()))
    ('<p>Ferry</p>', 1)

    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(content.encode() if isinstance(content, str) else content)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
