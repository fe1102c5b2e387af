"""Writing a farm for other people's tools: which writer, by the ending of the file's name."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import unquote

from ringrow.errors import FileError
from ringrow.farm.flag_places import locate_flags
from ringrow.handoff.features import farm_features, flag_features, history_features
from ringrow.handoff.files import check_target

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.events import Event
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.geojson import Mending

ENDINGS = (".geojson", ".gpkg", ".gpx", ".kml", ".kmz", ".csv", ".zip")
"""Endings of files that a farm is exported to; a zip file holds shapefiles."""

SHAPEFILE_NOTE = (
    "Shapefiles are an old, narrow format: column names of 10 letters (full names in columns.csv), texts up "
    "to 254 bytes, times as text, an empty number may read as 0, 2 GB a file. "
    "A .gpkg has none of these limits."
)
"""What is told with every export of shapefiles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportReport:
    """What was written.

    Parameters
    ----------
    counts : dict of str to int
        Features of each kind.
    remarks : tuple of str
        What was left out, cut or mended, in plain words, one line each.
    """

    counts: Mapping[str, int]
    remarks: tuple[str, ...] = ()


def check_export(path: Path, *, overwrite: bool) -> None:
    """Refuse a file name that a farm cannot be exported to, before any work is done.

    Parameters
    ----------
    path : Path
        File to be written.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    FileError
        If the ending is not allowed, the folder is missing, or the file is there already.
    """
    if path.suffix.lower() == ".shp":
        message = (
            f'output file: found "{path.name}"; allowed: one .zip file for all shapefiles of a farm; '
            f'say "{path.stem}.zip"'
        )
        raise FileError(message)
    check_target(path, endings=ENDINGS, overwrite=overwrite)


def export_farm(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    path: Path,
    *,
    events: Sequence[Event] = (),
) -> ExportReport:
    """Write a farm as a file that other programs read; its ending says which kind.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Fields to put in, laid out.
    flags : sequence of LocatedFlag
        Flags to put in.
    path : Path
        File to write; one that is there is replaced, whole or not at all.
    events : sequence of Event, default ()
        Events of the log: GeoJSON carries the flags' whole history, and records about systems.

    Returns
    -------
    ExportReport
        Counts, and what must be said.

    Raises
    ------
    FileError
        If the ending is none of ours, or the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending == ".gpx":
        return _gpx(farm, flags, path)
    if ending == ".csv":
        from ringrow.handoff.export_csv import write_csv

        return ExportReport(counts={"flag": write_csv(flags, path, farm.units)})
    if ending in (".kml", ".kmz"):
        return _kml(farm, layouts, flags, path)
    if ending in (".gpkg", ".zip"):
        return _tables(farm, layouts, flags, path)
    if ending == ".geojson":
        from ringrow.handoff.geojson import write_geojson

        report = write_geojson(_with_history(farm, layouts, flags, events), path)
        return ExportReport(counts=report.counts, remarks=_mended_words(report.mended))
    message = f'output file: found "{path.name}"; allowed: a name that ends in {", ".join(ENDINGS)}'
    raise FileError(message)


def _with_history(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], events: Sequence[Event]
) -> Iterator[FeatureGroup]:
    """Yield the farm's features, its flags with their histories; flags shown as one come one by one."""
    yield from farm_features(farm, layouts, [])
    joined = [other for flag in flags for other in flag.state.joined]
    everyone = [*flags, *locate_flags(farm, layouts, joined)] if joined else list(flags)
    yield from history_features(flag_features(everyone, farm.units), events)


def _gpx(farm: Farm, flags: Sequence[LocatedFlag], path: Path) -> ExportReport:
    from ringrow.handoff.export_gpx import write_gpx
    from ringrow.handoff.export_words import unplaced_words, without_position

    counts = write_gpx(farm, flags, path)
    unplaced = unplaced_words(without_position(flags), farm.units, left_out=True)
    return ExportReport(counts=counts, remarks=tuple(unplaced))


def _kml(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], path: Path
) -> ExportReport:
    from ringrow.handoff.export_kml import write_kml

    counts, mended = write_kml(farm, farm_features(farm, layouts, flags), flags, path)
    return ExportReport(counts=counts, remarks=(*_unplaced(farm, flags), *_mended_words(mended)))


def _tables(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], path: Path
) -> ExportReport:
    from ringrow.handoff.export_layers import sort_into_layers

    layers, mended = sort_into_layers(farm_features(farm, layouts, flags))
    remarks = [*_unplaced(farm, flags), *_mended_words(mended)]
    if path.suffix.lower() == ".gpkg":
        from ringrow.handoff.export_gpkg import write_gpkg

        write_gpkg(layers, path)
    else:
        from ringrow.handoff.export_shapefile import write_shapefiles

        cut = write_shapefiles(layers, path)
        remarks += [f"Cut to fit: {'; '.join(cut)}."] if cut else []
        remarks.append(SHAPEFILE_NOTE)
    counts: Counter[str] = Counter()
    for layer in layers:
        counts.update(layer.columns["feature"])
    return ExportReport(counts=dict(counts), remarks=tuple(remarks))


def _unplaced(farm: Farm, flags: Sequence[LocatedFlag]) -> list[str]:
    from ringrow.handoff.export_words import unplaced_words, without_position

    return unplaced_words(without_position(flags), farm.units, left_out=False)


def _mended_words(mended: Iterable[Mending]) -> tuple[str, ...]:
    mended = list(mended)
    if not mended:
        return ()
    worst = max(mended, key=lambda mending: mending.moved_ppm)
    shapes = f"{len(mended):,} shape{'s' * (len(mended) != 1)}"
    return (
        f"Rounding to seven decimals (about 1 cm) made {shapes} touch or cross itself; that was mended. "
        f"The most that moved is {worst.moved_ppm:,.1f} ppm of the area of {unquote(worst.feature)}.",
    )
