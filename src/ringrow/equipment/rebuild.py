"""Rebuilds of a machine: the day from which its towers or outlets are others than before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from datetime import date

Rebuilt = Literal["machine", "spans", "sprinklers"]

SPRINKLER_KINDS: frozenset[str] = frozenset({"sprinkler", "drop", "regulator", "end-gun"})
"""Flag kinds whose parts are new after new sprinklers were put on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuild:
    """New hardware on a machine.

    Parameters
    ----------
    day : date
        First day with it.
    what : {"machine", "spans", "sprinklers"}
        What is new: everything; spans, and so towers and outlets; sprinklers, drops and regulators.
    """

    day: date
    what: Rebuilt

    def renews(self, kind: str) -> bool:
        """Return whether a flag of a kind set before it speaks of hardware that is gone.

        Parameters
        ----------
        kind : str
            A flag kind.

        Returns
        -------
        bool
            True for every kind unless only the sprinklers are new.

        Examples
        --------
        >>> from datetime import date
        >>> Rebuild(day=date(2028, 3, 1), what="sprinklers").renews("gearbox")
        False
        """
        return self.what != "sprinklers" or kind in SPRINKLER_KINDS
