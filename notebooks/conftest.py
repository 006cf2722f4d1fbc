"""Notebooks are checked on the demo tour, whoever runs them and whatever is in their own diary."""

import os
import tempfile

os.environ["TOURSTATS_DIARY"] = "demo"
os.environ["XDG_CACHE_HOME"] = tempfile.mkdtemp(prefix="tourstats-notebooks-")
