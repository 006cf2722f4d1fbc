"""The workbook as a whole: opened from a notebook, from JupyterLab, and as pages that are served.

opening          the diary, read once for a notebook
lab              the notebooks, laid out and opened in JupyterLab
served           the pages at one address: started, said where, stopped
pages_server     the program that serves them
beforehand       what pages ask, worked out before they are opened
kernels          its kernels, forked from one process that has everything loaded
loaded           that process
telephone        the way in for a telephone
share            the template of a served page, its style and script
server           a server that ends when its command ends
run_again        the notebooks executed again on the demo tour
readme_pictures  the pictures of the README
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tourstats.pages.kit.whose import COPY_WORDS, DEMO, DEMO_WORDS, Whose, for_pages, whose
    from tourstats.pages.workbook.lab import NOTEBOOKS, WorkbookProblem, laid_out, run
    from tourstats.pages.workbook.opening import read, say

_OF = {
    "kit.whose": ("COPY_WORDS", "DEMO", "DEMO_WORDS", "Whose", "for_pages", "whose"),
    "workbook.lab": ("NOTEBOOKS", "WorkbookProblem", "laid_out", "run"),
    "workbook.opening": ("read", "say"),
}


def __getattr__(name: str) -> object:
    """Load what was asked for when it is asked for: the server of the pages reads no table."""
    for module, names in _OF.items():
        if name in names:
            return getattr(import_module(f"tourstats.pages.{module}"), name)
    raise AttributeError(f"The workbook has no {name!r}.")
