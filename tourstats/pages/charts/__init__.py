"""Charts, one function a chart: each draws columns that a model already computed."""

from tourstats.pages.charts import _names  # noqa: F401  # for what it does, before Altair
from tourstats.pages.charts._base import finished, register

__all__ = ["finished", "register"]
