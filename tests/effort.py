"""How hard property tests try, by the profile of hypothesis that is loaded."""

from __future__ import annotations

from hypothesis import settings

USUAL = 50
"""Examples a test for which the numbers in the tests were chosen."""


def effort(examples: int) -> int:
    """Return how many examples a test tries where `examples` were chosen for it: as the profile goes.

    Parameters
    ----------
    examples : int
        Number chosen for the test, against 50 for others.

    Returns
    -------
    int
        At least 3.
    """
    return max(3, round(examples * settings.default.max_examples / USUAL))
