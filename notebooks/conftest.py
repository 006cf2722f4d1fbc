"""Notebooks are checked on the demo tour, whoever runs them and whatever is in their own diary."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

folder = tempfile.mkdtemp(prefix="tourstats-notebooks-")
Path(folder).chmod(0o1777)  # as any folder for such files: some tests go on as a person without rights
atexit.register(shutil.rmtree, folder, ignore_errors=True)
os.environ["TOURSTATS_DIARY"] = "demo"
os.environ["XDG_CACHE_HOME"] = folder
os.environ["TMPDIR"] = folder  # of the kernels: they are ended too abruptly to take their copy of the demo away
