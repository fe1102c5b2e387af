"""A farm as loaded from its folder: plain data for everything above."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from ringrow.coverage.accuracy import DEFAULT_ACCURACY, Accuracy
from ringrow.equipment.kinds import FLAG_KINDS, FlagKind

if TYPE_CHECKING:
    from pathlib import Path

    from ringrow.coverage.field import Field
    from ringrow.equipment.well import Well
    from ringrow.errors import Fault
    from ringrow.units import UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """A shape that was broken and has been mended openly.

    Parameters
    ----------
    file, key : str
        Where the shape stands in the farm's files.
    changes : tuple of str
        What was changed, in plain words.
    area_before_m2, area_after_m2 : float
        Area as drawn (by the even-odd rule) and after the repair. [m2]
    """

    file: str
    key: str
    changes: tuple[str, ...]
    area_before_m2: float
    area_after_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Somebody to call: for cautions on map and sheets.

    Parameters
    ----------
    name : str
        Who it is, by what they do rather than who they are.
    phone : str, default ""
        Number to call.
    """

    name: str
    phone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedPart:
    """A part that the farm's files say a kind of flag needs.

    Parameters
    ----------
    kind : str
        The flag kind.
    part : str
        What to bring, with its size.
    quantity : int, default 1
        How many for one flag. [-]
    """

    kind: str
    part: str
    quantity: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedItem:
    """A put-away item that the farm's files add, word anew or leave out.

    Parameters
    ----------
    item : str
        Name of the item.
    words, back : str, default ""
        What is done in the fall; what is done in spring. Empty for a built-in item's own words.
    kind : str, default ""
        Kind of system it holds for; empty where `system` says which.
    system : str, default ""
        The one system it holds for; empty for all of `kind`.
    leave_out : bool, default False
        Whether the item is taken off the list.
    """

    item: str
    words: str = ""
    back: str = ""
    kind: str = ""
    system: str = ""
    leave_out: bool = False

    def applies_to(self, kind: str, names: tuple[str, ...]) -> bool:
        """Return whether it holds for a system.

        Parameters
        ----------
        kind : str
            Kind of the system.
        names : tuple of str
            Every name it goes by.

        Returns
        -------
        bool
            True when it does.
        """
        return self.kind in ("", kind) and (not self.system or self.system in names)


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedCheck:
    """A checklist item that the farm's files add, word anew or leave out.

    Parameters
    ----------
    item : str
        Name of the item.
    words : str, default ""
        What is looked at, in the farm's words.
    kind : str, default ""
        Kind of system it holds for; empty where `system` says which.
    system : str, default ""
        The one system it holds for; empty for all of `kind`.
    how : {"look", "try"} or None, default None
        How an item of the farm's own is settled; None for one of ours.
    per : {"system", "tower", "zone"} or None, default None
        What an item of the farm's own is asked of; None for one of ours.
    leave_out : bool, default False
        Whether the item is taken off the list.
    """

    item: str
    words: str = ""
    kind: str = ""
    system: str = ""
    how: Literal["look", "try"] | None = None
    per: Literal["system", "tower", "zone"] | None = None
    leave_out: bool = False

    def applies_to(self, kind: str, names: tuple[str, ...]) -> bool:
        """Return whether it holds for a system.

        Parameters
        ----------
        kind : str
            Kind of the system.
        names : tuple of str
            Every name it goes by.

        Returns
        -------
        bool
            True when it does.
        """
        return self.kind in ("", kind) and (not self.system or self.system in names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """How far a reading may lie from the number it is held against, where the farm says so.

    Parameters
    ----------
    volts_share, flow_share, pressure_share : float or None, default None
        Share of the plate volts, of the design flow, of the design pressure; None = ours. [-]
    filter_loss_kpa : float or None, default None
        Most pressure that filters may take; None = not known, and not judged. [kPa]
    """

    volts_share: float | None = None
    flow_share: float | None = None
    pressure_share: float | None = None
    filter_loss_kpa: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Farm:
    """A farm: its fields in metres, its wells, its units.

    Parameters
    ----------
    folder : Path
        The farm's folder.
    name : str
        The farm's name.
    units : UnitSystem
        Units of its files and of everything printed.
    language : str, default "en"
        Language of what the crew sees.
    time_zone : str or None, default None
        IANA name of the zone its clocks show, such as ``America/Chicago``.
    gate : tuple of float or None, default None
        Longitude and latitude of the gate. [deg]
    wells : tuple of Well, default ()
        Wells, in file order.
    contacts : tuple of Contact, default ()
        People and services to call.
    fields : tuple of Field, default ()
        Fields, by file name.
    accuracy : Accuracy
        Accuracy of a position when none is stated.
    kinds : dict of str to FlagKind
        Flag kinds: our own list and what farm.toml adds.
    parts : tuple of StatedPart, default ()
        Parts by flag kind that take the place of the built-in ones.
    put_away : tuple of StatedItem, default ()
        Put-away items that the farm adds, words anew or leaves out.
    checklist : tuple of StatedCheck, default ()
        Checklist items that the farm adds, words anew or leaves out.
    tolerances : Tolerances
        How far readings may lie off, where the farm says so.
    warnings : tuple of Fault, default ()
        What is legal but looks wrong.
    repairs : tuple of Repair, default ()
        Shapes that were mended while loading.
    """

    folder: Path
    name: str
    units: UnitSystem
    language: str = "en"
    time_zone: str | None = None
    gate: tuple[float, float] | None = None
    wells: tuple[Well, ...] = ()
    contacts: tuple[Contact, ...] = ()
    fields: tuple[Field, ...] = ()
    accuracy: Accuracy = DEFAULT_ACCURACY
    kinds: dict[str, FlagKind] = field(default_factory=lambda: dict(FLAG_KINDS))
    parts: tuple[StatedPart, ...] = ()
    put_away: tuple[StatedItem, ...] = ()
    checklist: tuple[StatedCheck, ...] = ()
    tolerances: Tolerances = Tolerances()
    warnings: tuple[Fault, ...] = ()
    repairs: tuple[Repair, ...] = ()
