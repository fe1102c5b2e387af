"""What the sheets know beside the flags: order of stops, parts used before, holes that were found."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ringrow.handoff.flag_table import by_class

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.dig_points import DigPoint
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.handoff.earlier_parts import EarlierPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """What is not in the flags themselves.

    Parameters
    ----------
    route : tuple of str, default ()
        UUIDs of flags in the order of a route; empty = by class.
    earlier : tuple of EarlierPart, default ()
        Parts used in earlier years.
    holes : mapping of str to DigPoint, default empty
        Holes that were found, by flag, of the whole log.
    """

    route: tuple[str, ...] = ()
    earlier: tuple[EarlierPart, ...] = ()
    holes: Mapping[str, DigPoint] = field(default_factory=dict)

    def ordered(self, flags: Sequence[LocatedFlag]) -> list[LocatedFlag]:
        """Return flags as the stops are to stand: by route, those not on it behind; else by class.

        Parameters
        ----------
        flags : sequence of LocatedFlag
            The flags.

        Returns
        -------
        list of LocatedFlag
            The same flags.
        """
        at = {id_: number for number, id_ in enumerate(self.route)}
        return sorted(by_class(flags), key=lambda flag: at.get(flag.state.id, len(at)))

    def stop(self, flag: LocatedFlag) -> int | None:
        """Return the number of a flag's stop on the route.

        Parameters
        ----------
        flag : LocatedFlag
            The flag.

        Returns
        -------
        int or None
            1 and up; None for a flag that is not on it.
        """
        return self.route.index(flag.state.id) + 1 if flag.state.id in self.route else None

    def fields(self, layouts: Sequence[FieldLayout], shared: Mapping[str, object]) -> list[FieldLayout]:
        """Return fields as their sheets are to stand: as the route comes to them, else as they are.

        Parameters
        ----------
        layouts : sequence of FieldLayout
            The fields.
        shared : mapping of str to object
            Names of fields with flags, in the order of their first stop.

        Returns
        -------
        list of FieldLayout
            The same fields.
        """
        if not self.route:
            return list(layouts)
        order = list(shared)
        return sorted(
            layouts,
            key=lambda each: order.index(each.field.name) if each.field.name in order else len(order),
        )
