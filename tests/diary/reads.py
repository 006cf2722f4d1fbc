"""Comparing two reads of a diary, for the tests beside this file."""

from dataclasses import fields

import pandas as pd


def assert_same(expected, actual):
    """Compare everything in two reads."""
    for field in fields(expected):
        pd.testing.assert_frame_equal(getattr(expected, field.name), getattr(actual, field.name), obj=field.name)
