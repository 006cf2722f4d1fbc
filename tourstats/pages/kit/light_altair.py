"""Altair, without what makes it slow to load: every module takes it from here.

Altair imports jsonschema, and that, where JupyterLab is installed, a parser of internet names that takes one to four
seconds to build. No chart has such a name in it, and jsonschema does without the parser where there is none.
"""

import sys

sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # None: "there is none"

import altair as alt  # noqa: E402  # after what it is to do without

__all__ = ["alt"]
