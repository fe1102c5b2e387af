"""A farm as loaded from its folder: plain data for everything above."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

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
    warnings : tuple of Fault, default ()
        What is legal but looks wrong.
    repairs : tuple of Repair, default ()
        Shapes that were mended while loading.
    """

    folder: Path
    name: str
    units: UnitSystem
    language: str = "en"
    gate: tuple[float, float] | None = None
    wells: tuple[Well, ...] = ()
    contacts: tuple[Contact, ...] = ()
    fields: tuple[Field, ...] = ()
    accuracy: Accuracy = DEFAULT_ACCURACY
    kinds: dict[str, FlagKind] = field(default_factory=lambda: dict(FLAG_KINDS))
    parts: tuple[StatedPart, ...] = ()
    warnings: tuple[Fault, ...] = ()
    repairs: tuple[Repair, ...] = ()
