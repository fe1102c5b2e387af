"""The sheets put together: what to bring, then each field with its map, words and stops."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any, Literal

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    PageBreak,
    PageTemplate,
    Spacer,
    Table,
)

from ringrow.geometry.angles import azimuth_deg
from ringrow.handoff.cautions import CLOSING
from ringrow.handoff.cautions_by_kind import cautions_for
from ringrow.handoff.earlier_parts import earlier_lines
from ringrow.handoff.languages import N_, _, counted, spoken_language
from ringrow.handoff.number_words import compass_words, length_words, runs_words
from ringrow.handoff.parts import bring_list, tool_list
from ringrow.handoff.sheets.chart import FieldChart
from ringrow.handoff.sheets.cover import COVER, cover
from ringrow.handoff.sheets.digs import dig_block
from ringrow.handoff.sheets.extras import Extras
from ringrow.handoff.sheets.stops import stop_table, wells_for
from ringrow.handoff.sheets.strips import machine_strips
from ringrow.handoff.sheets.type import BOLD, REGULAR, fitted, marked, printable, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Farm
    from ringrow.farm.ready import ReadyBoard

Paper = Literal["letter", "a4"]

_SIZES = {"letter": LETTER, "a4": A4}
_EDGE = 34.0
_HEAD = 20.0
_FARM = 160.0
_CROWD = 25
_BRING = N_("What to bring")
_ELSEWHERE = N_("Places beside the fields")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """Sheets ready to be written.

    Parameters
    ----------
    pdf : bytes
        The file.
    pages : dict of str to int
        How many pages each part takes, in order; the list of what to bring first. [-]
    """

    pdf: bytes
    pages: dict[str, int]


class _Start(Flowable):  # type: ignore[misc]
    """Nothing to see: says which part the page it stands on, and those behind it, belong to."""

    def __init__(self, part: str) -> None:
        super().__init__()
        self.part = part

    def wrap(self, *_room: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        self.canv.part = self.part


class _CautionsHere(Flowable):  # type: ignore[misc]
    """Nothing to see: says that the cautions of its part stand on this page."""

    def wrap(self, *_room: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        self.canv.cautions = True


class _Canvas(Canvas):  # type: ignore[misc]
    """A canvas that writes heads once it knows how many pages there are."""

    farm_name: str = ""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.part = ""
        self.cautions = False
        self._kept: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - the name of what it stands for
        """Keep the page for later."""
        self._kept.append(dict(self.__dict__))
        self.cautions = False
        self._startPage()

    def save(self) -> None:
        """Write every page with its head."""
        parts = [page["part"] for page in self._kept]
        numbers = [parts[: at + 1].count(part) for at, part in enumerate(parts)]
        told = {page["part"]: at for page, at in zip(self._kept, numbers, strict=True) if page["cautions"]}
        for number, page in enumerate(self._kept):
            self.__dict__.update(page)
            within = numbers[number], parts.count(self.part)
            self._head(within, (number + 1, len(parts)), cautions_on=told.get(self.part))
            super().showPage()
        super().save()

    def _head(self, within: tuple[int, int], among: tuple[int, int], *, cautions_on: int | None) -> None:
        wide, high = self._pagesize
        self.setFillGray(0)
        self.setFont(REGULAR, 7.5)
        counts = _("page {page} of {pages}  ·  sheet {sheet} of {sheets}").format(
            page=within[0], pages=within[1], sheet=among[0], sheets=among[1]
        )
        farm = fitted(self.farm_name, font=REGULAR, size=7.5, room=_FARM)
        said = f"{farm}  ·  {counts}"
        self.drawRightString(wide - _EDGE, high - _EDGE, said)
        room = wide - 2 * _EDGE - self.stringWidth(said, REGULAR, 7.5) - 12
        self.setFont(BOLD, 11)
        self.drawString(_EDGE, high - _EDGE, fitted(self.part, font=BOLD, size=11, room=room))
        self.setLineWidth(1)
        self.line(_EDGE, high - _EDGE - 5, wide - _EDGE, high - _EDGE - 5)
        self.setFont(REGULAR, 6.5)
        foot = f"{_(CLOSING)} {_('This sheet is no utility locate.')}"
        if cautions_on not in (None, within[0]):
            foot += f" {_('Cautions for this work: page {page}.').format(page=cautions_on)}"
        self.drawString(_EDGE, _EDGE - 12, foot)


def make_sheets(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    *,
    paper: Paper = "letter",
    extras: Extras | None = None,
    board: ReadyBoard | None = None,
) -> Sheets:
    """Return the printed sheets for some flags.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Fields to put in, laid out; those without flags are left out unless there are no flags at all.
    flags : sequence of LocatedFlag
        Flags to put in.
    paper : {"letter", "a4"}, default "letter"
        Size of the sheets.
    extras : Extras or None, default None
        Order of stops, parts used in earlier years, holes that were found.
    board : ReadyBoard or None, default None
        Who is ready for first water, for a cover; None for no cover.

    Returns
    -------
    Sheets
        The same bytes for the same farm and flags.
    """
    size = _SIZES[paper]
    known = extras or Extras()
    shared = _by_field(farm, layouts, known.ordered(flags))
    kept = [each for each in known.fields(layouts, shared) if shared.get(each.field.name) or not flags]
    wide = int(size[0] - 2 * _EDGE)
    story: list[Any] = []
    if board is not None:
        story += [_Start(_(COVER)), *cover(board, farm.units, wide=wide), PageBreak()]
    story += _bring(farm, layouts, flags, shared, known, wide=wide)
    for layout in kept:
        own = shared.get(layout.field.name, [])
        story += [
            PageBreak(),
            _Start(layout.field.name),
            *_field(farm, layouts, layout, own, known, wide=wide),
        ]
    if shared.get(""):
        story += [PageBreak(), _Start(_(_ELSEWHERE))]
        story += [*_cautions(shared[""]), Spacer(0, 6)]
        story.append(stop_table(farm, layouts, shared[""], lambda _flag: "", wide=wide, stop=known.stop))
        story += dig_block(farm, layouts, shared[""], known.holes)
    return _written(farm.name, story, size)


def _written(name: str, story: list[Any], size: tuple[float, float]) -> Sheets:
    out = BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=size,
        title=printable(_("{name}: sheets").format(name=name)),
        author="",
        invariant=1,
        lang=spoken_language(),
    )
    room = Frame(
        _EDGE,
        _EDGE,
        size[0] - 2 * _EDGE,
        size[1] - 2 * _EDGE - _HEAD + 8,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates(PageTemplate(frames=[room]))
    parts: list[str] = []

    class Named(_Canvas):
        farm_name = name

        def save(self) -> None:
            parts.extend(page["part"] for page in self._kept)
            super().save()

    document.build(story, canvasmaker=Named)
    return Sheets(pdf=out.getvalue(), pages={part: parts.count(part) for part in dict.fromkeys(parts)})


def _by_field(
    farm: Farm, layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag]
) -> dict[str, list[LocatedFlag]]:
    """Return the flags of each field in their order, each flag once; under an empty name those of none."""
    names = {layout.field.name for layout in layouts}
    shared: dict[str, list[LocatedFlag]] = {}
    for flag in flags:
        home = flag.field if flag.field in names else None
        if home is None and flag.well is not None:
            well = next((each for each in farm.wells if each.name == flag.well), None)
            serves = set(well.serves) if well else set()
            home = next((layout.field.name for layout in layouts if serves & _systems(layout)), None)
        shared.setdefault(home or "", []).append(flag)
    return shared


def _systems(layout: FieldLayout) -> set[str]:
    machines = {pivot.pivot.machine for pivot in layout.pivots} - {""}
    return machines | {system.name for system in layout.systems}


def _bring(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    flags: Sequence[LocatedFlag],
    shared: dict[str, list[LocatedFlag]],
    extras: Extras,
    *,
    wide: int,
) -> list[Any]:
    story: list[Any] = [_Start(_(_BRING))]
    counts = "; ".join(f"{marked(name or _(_ELSEWHERE))} {len(own)}" for name, own in shared.items())
    total = counted("{n} flag", "{n} flags", len(flags)).format(n=len(flags))
    story.append(words(f"<b>{total}</b>: {counts}" if flags else f"<b>{_('No flags.')}</b>", size=9))
    items = bring_list(farm, layouts, flags)
    rows: list[list[Any]] = [
        [words(f"<b>{text}</b>") for text in ("", _("How many"), _("What"), _("For flags"))],
        *(
            [
                _Tick(),
                words(str(item.quantity)),
                words(marked(item.part) if item.known else f"<b>{marked(item.part)}</b>"),
                words(runs_words(list(item.numbers))),
            ]
            for item in items
        ),
    ]
    if items:
        story.append(Spacer(0, 6))
        widths = [20, 55, wide - 205, 130]
        story.append(Table(rows, colWidths=widths, repeatRows=1, style=_RULED, hAlign="LEFT"))
    if any(not item.known for item in items):
        said = _(
            "Bold: the farm's files do not state the size. Look before you drive, or bring what you have."
        )
        story.append(words(said, size=7, before=3))
    story += [words(marked(line), size=8, before=3) for line in earlier_lines(extras.earlier)]
    tools = ", ".join(marked(tool) for tool in tool_list(flags))
    if tools:
        story.append(words(f"<b>{_('Tools')}</b>: {tools}.", before=6))
    if farm.contacts:
        call = "; ".join(f"{marked(each.name)} {marked(each.phone or '-')}" for each in farm.contacts)
        story.append(words(f"<b>{_('Whom to call')}</b>: {call}", before=6))
    check_in = _("with {blank}____________  at {blank}  o'clock, back by {blank}").format(blank="________")
    story.append(words(f"<b>{_('Check in')}</b>: {check_in}", before=8))
    return story


def _field(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    layout: FieldLayout,
    flags: Sequence[LocatedFlag],
    extras: Extras,
    *,
    wide: int,
) -> list[Any]:
    strips = machine_strips(layout, flags, farm.units, wide=wide)
    chart = FieldChart(farm, layout, flags, wide=wide, high=_chart_high(len(flags), len(strips)))
    story: list[Any] = [*_way(farm, layout), chart, *strips, *_words_about(farm, layouts, layout, flags)]
    story += [*_cautions(flags), Spacer(0, 5)]
    if flags:
        story.append(stop_table(farm, layouts, flags, chart.square_of, wide=wide, stop=extras.stop))
        on_ground = sum(flag.kind.on == "ground" for flag in flags)
        if on_ground:
            said = _(
                "Flags in the ground: {n} listed.  Set {blank}  Pulled {blank}  Left standing {blank}"
            ).format(n=on_ground, blank="______")
            story.append(words(said, before=5))
    story += dig_block(farm, layouts, flags, extras.holes)
    return story


def _chart_high(flags: int, strips: int) -> int:
    """Return the height of a map: lower where stops want the room too, high where flags crowd it."""
    if flags > _CROWD:
        return 520 - min(150, 60 * strips)
    return (370 if flags <= 6 else 330) - min(90, 40 * strips)


def _way(farm: Farm, layout: FieldLayout) -> list[Any]:
    """Return how to get there: road, legal description, gate."""
    field = layout.field
    lines = [f"<b>{_('Get there')}</b> {marked(field.access)}"] if field.access else []
    lines += [f"<b>{_('Legal')}</b> {marked(field.legal)}"] if field.legal else []
    if farm.gate is not None:
        lon, lat = farm.gate
        x, y = (float(each) for each in field.frame.to_xy(lon, lat))
        middle = field.boundary.centroid
        far_m = ((middle.x - x) ** 2 + (middle.y - y) ** 2) ** 0.5
        way = compass_words(float(azimuth_deg(middle.x - x, middle.y - y))) if far_m > 1 else ""
        said = _("{at}; from there {far} {way} to the middle of this field, in a straight line").format(
            at=f"{lat:.6f}, {lon:.6f}", far=length_words(far_m, farm.units), way=way
        )
        lines.append(f"<b>{_('Gate')}</b> {said}")
    return [words(".  ".join(line.rstrip(". ") for line in lines) + ".", size=7)] if lines else []


def _words_about(
    farm: Farm, layouts: Sequence[FieldLayout], layout: FieldLayout, flags: Sequence[LocatedFlag]
) -> list[Any]:
    """Return notes on field, machines and the wells that have to be shut."""
    notes = [(layout.field.name, layout.field.notes)]
    notes += [(pivot.name, pivot.pivot.notes) for pivot in layout.pivots]
    notes += [(move.name, move.move.notes) for move in layout.lateral_moves]
    notes += [(drip.name, drip.block.notes) for drip in layout.drip]
    wells = {well.name: well for flag in flags for well in wells_for(farm, layouts, flag)}
    notes += [(well.name, well.notes) for well in wells.values()]
    return [words(f"<b>{marked(name)}</b>: {marked(note)}", size=7) for name, note in notes if note]


def _cautions(flags: Sequence[LocatedFlag]) -> list[Any]:
    cautions = cautions_for(flag.kind for flag in flags)
    cells = [words(f"<b>{marked(_(each.title))}.</b> {marked(_(each.text))}", size=6) for each in cautions]
    half = _halfway([len(_(each.title)) + len(_(each.text)) for each in cautions])
    rows = [[[_CautionsHere(), *cells[:half]], cells[half:]]]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("BOX", (0, 0), (-1, -1), 0.8, "black"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
    ]
    return [Spacer(0, 4), Table(rows, colWidths=["50%", "50%"], style=style)]


def _halfway(lengths: Sequence[int]) -> int:
    """Return how many of some texts make up about half of all their letters."""
    sums = [abs(2 * sum(lengths[:count]) - sum(lengths)) for count in range(len(lengths) + 1)]
    return sums.index(min(sums))


class _Tick(Flowable):  # type: ignore[misc]
    def wrap(self, *_room: float) -> tuple[float, float]:
        return 10.0, 10.0

    def draw(self) -> None:
        self.canv.rect(0, 1, 8, 8, stroke=1, fill=0)


_RULED = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEBELOW", (0, 0), (-1, -1), 0.3, "black"),
    ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
]
