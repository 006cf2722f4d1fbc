"""Comparing two reads of a diary, for the tests beside this file."""

import pandas as pd


def assert_same(expected, actual):
    """Compare everything in two reads."""
    for name, frame in expected:
        pd.testing.assert_frame_equal(frame, getattr(actual, name), obj=name)
