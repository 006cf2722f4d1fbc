"""Pages are drawn with a library that only the extra `photo` brings."""

collect_ignore = ["drawing.py"]
