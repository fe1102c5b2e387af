"""The parts of the page that need no script: flags, drawings, machines, acres, key, cautions."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from ringrow.handoff.acres_table import area_statement
from ringrow.handoff.cautions import CLOSING, GENERAL
from ringrow.handoff.languages import N_, _
from ringrow.handoff.map.drawing import Guide, draw_map
from ringrow.handoff.map.drawing_labels import point_letter
from ringrow.handoff.map.strips import draw_machine, draw_move
from ringrow.handoff.map.symbols import STATUS_WORDS, symbol_icon
from ringrow.handoff.map.touched import note_lines
from ringrow.handoff.map.ways import standing_words
from ringrow.handoff.map.words import CLASS_WORDS, clash_words
from ringrow.handoff.place_words import flag_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ringrow.coverage.field import FieldLayout
    from ringrow.farm.flag_model import LocatedFlag
    from ringrow.farm.model import Contact, Farm
    from ringrow.farm.parked import MachineLine
    from ringrow.handoff.feature_group import FeatureGroup
    from ringrow.handoff.map.ways import Way
    from ringrow.units import UnitSystem


def field_anchor(index: int) -> str:
    """Return the name by which a field's drawing is linked to.

    Parameters
    ----------
    index : int
        Position of the field, from 0.

    Returns
    -------
    str
        Name of the anchor.
    """
    return f"field-{index + 1}"


def flag_section(
    flags: Sequence[LocatedFlag],
    layouts: Sequence[FieldLayout],
    units: UnitSystem,
    anchors: Mapping[str, str],
) -> str:
    """Return the list of flags, grouped by class.

    Parameters
    ----------
    flags : sequence of LocatedFlag
        Flags in the order of the list.
    layouts : sequence of FieldLayout
        The farm's fields.
    units : UnitSystem
        Units of the places in words.
    anchors : mapping of str to str
        Names by which each field's drawing is linked to, by field name.

    Returns
    -------
    str
        A section with one table row a flag; without script a row leads to its field's drawing.
    """
    if not flags:
        return _section("flags", _("Flags"), f"<p>{escape(_('No flags.'))}</p>")
    bodies = []
    for name in dict.fromkeys(flag.flag_class for flag in flags):
        rows = "".join(_flag_row(flag, layouts, units, anchors) for flag in flags if flag.flag_class == name)
        words = escape(_(CLASS_WORDS.get(name, name)))
        bodies.append(
            f'<tbody><tr><th class="class" colspan="3" scope="rowgroup">{words}</th></tr>{rows}</tbody>'
        )
    table = (
        f'<table class="flags"><thead><tr>{_heads(_("Flag"), _("What and where"), _("Status"))}</tr></thead>'
        f"{''.join(bodies)}</table>"
    )
    return _section("flags", _("Flags ({n})").format(n=len(flags)), table)


def drawing_section(
    farm: Farm,
    layouts: Sequence[FieldLayout],
    groups: Sequence[FeatureGroup],
    flags: Sequence[LocatedFlag],
    guides: Mapping[str, Sequence[Guide]],
    ways: Sequence[Way] = (),
) -> str:
    """Return the drawn maps: the whole farm, then each field.

    Parameters
    ----------
    farm : Farm
        The farm.
    layouts : sequence of FieldLayout
        Its fields, laid out.
    groups : sequence of FeatureGroup
        Its features.
    flags : sequence of LocatedFlag
        Its flags.
    guides : mapping of str to sequence of Guide
        Lines worth a label, by field name.
    ways : sequence of Way, default ()
        Lines that are no ground, machines where they stand among them.

    Returns
    -------
    str
        A section with one figure a drawing. Flags stand on the drawing of their field; those
        beside every field stand on the drawing of the whole farm.
    """
    figures = []
    drawn_flags: set[str] = set()
    points = [group for group in groups if group.kind in ("well", "gate")]
    for index, layout in enumerate(layouts):
        field = layout.field
        own = [group for group in groups if group.shared.get("field") == field.name]
        near = [_inside(group, own) for group in points]
        here = [flag for flag in flags if flag.field == field.name or _near(flag, own)]
        drawn_flags |= {flag.state.id for flag in here}
        drawn = draw_map(
            [*own, *near],
            here,
            key=field_anchor(index),
            title=_("Map of {name}").format(name=field.name),
            guides=guides.get(field.name, ()),
            ways=[way for way in ways if way.field == field.name],
        )
        notes = f"<p>{escape(field.notes)}</p>" if field.notes else ""
        figures.append(_figure(field_anchor(index), field.name, drawn, notes))
    left = [flag for flag in flags if flag.state.id not in drawn_flags]
    if len(layouts) > 1 or any(flag.lon is not None for flag in left):
        title = _("Map of {name}").format(name=farm.name)
        whole = draw_map(groups, left, key="farm", title=title, ways=ways, overview=True)
        figures.insert(0, _figure("whole-farm", _("{name}, whole farm").format(name=farm.name), whole))
    return _section("drawn", _("Drawn maps"), "".join(figures))


def standing_section(lines: Sequence[MachineLine]) -> str:
    """Return which machines are drawn where they stand.

    Parameters
    ----------
    lines : sequence of MachineLine
        The machines.

    Returns
    -------
    str
        A section with one line a machine; empty for none.
    """
    if not lines:
        return ""
    items = "".join(f"<li>{escape(standing_words(line))}.</li>" for line in lines)
    said = _(
        "These machines are drawn where they were said to stand, their towers numbered, and flags on them "
        "stand there too. One that has walked since is somewhere else."
    )
    return _section("standing", _("Where machines stand"), f"<p>{escape(said)}</p><ul>{items}</ul>")


def machine_section(layouts: Sequence[FieldLayout], flags: Sequence[LocatedFlag], units: UnitSystem) -> str:
    """Return each machine that carries flags as a line of numbered towers.

    Parameters
    ----------
    layouts : sequence of FieldLayout
        Fields, laid out.
    flags : sequence of LocatedFlag
        All flags.
    units : UnitSystem
        Units of the distances.

    Returns
    -------
    str
        A section; empty when no flag sits on a machine.
    """
    riding = [flag for flag in flags if flag.kind.on == "machine"]
    strips, drawn = [], set()
    for layout in layouts:
        for pivot in layout.field.pivots:
            # A towed machine of unknown whereabouts has one line, whichever point stands first.
            names = {pivot.name, pivot.machine or pivot.name}
            own = [flag for flag in riding if flag.pivot is not None and flag.pivot.name in names]
            own = [flag for flag in own if flag.state.id not in drawn]
            drawn |= {flag.state.id for flag in own}
            if own:
                name = own[0].pivot.name if own[0].pivot else pivot.name
                title = _("{name}: flags {numbers} on a line of {n} numbered towers").format(
                    name=name, numbers=_numbers(own), n=len(pivot.spans_m)
                )
                strips.append(_strip(name, draw_machine(pivot, own, units, title=title), pivot.notes))
        for move in layout.field.lateral_moves:
            own = [flag for flag in riding if flag.move is not None and flag.move.name == move.name]
            if own:
                title = _(
                    "{name}: flags {numbers} on a line of towers numbered from the cart on each side"
                ).format(name=move.name, numbers=_numbers(own))
                strips.append(_strip(move.name, draw_move(move, own, units, title=title), move.notes))
    if not strips:
        return ""
    said = _("Each line shows how far out a flag sits. It does not show where the machine stands now.")
    return _section("machines", _("Flags on machines"), f"<p>{escape(said)}</p>{''.join(strips)}")


def acres_section(rows: Sequence[tuple[str, float, float, float]], units: UnitSystem) -> str:
    """Return the acres summary.

    Parameters
    ----------
    rows : sequence of (str, float, float, float)
        Field, farmable, irrigated and dry area in farm units; the farm's total last.
    units : UnitSystem
        The farm's units.

    Returns
    -------
    str
        A section with one table, and which acre is meant.
    """
    head = _heads(_("Field"), _("Farmable"), _("Irrigated"), _("Dry"))
    body = "".join(
        f'<tr><th scope="row">{escape(name)}</th>'
        + "".join(f"<td>{value:,.1f}</td>" for value in values)
        + "</tr>"
        for name, *values in rows
    )
    table = f'<table class="acres"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'
    wind = _("Wind moves the edge of watered ground.")
    said = f"<p>{escape(f'{area_statement(units)} {wind}')}</p>"
    return _section("acres", _("Acres") if units.name == "us" else _("Hectares"), table + said)


def key_section() -> str:
    """Return the key: what each symbol and ground means."""
    symbols = "".join(
        f"<li>{symbol_icon(status, '7')}<span>{escape(_(words))}</span></li>"
        for status, words in STATUS_WORDS.items()
    )
    grounds = "".join(
        f'<li><svg class="icon" width="40" height="40" viewBox="0 0 40 40" aria-hidden="true">'
        f"{_lettered(drawn)}</svg><span>{escape(_(words), quote=False)}</span></li>"
        for drawn, words in _KEY_GROUNDS
    )
    said = _(
        "The number in a symbol is the flag's number in the list. Where flags crowd, a line leads from the "
        "symbol to its spot."
    )
    return _section(
        "key", _("Key"), f'<p>{escape(said, quote=False)}</p><ul class="key">{symbols}{grounds}</ul>'
    )


def caution_section(contacts: Sequence[Contact]) -> str:
    """Return the cautions, and whom to call.

    Parameters
    ----------
    contacts : sequence of Contact
        People and services from farm.toml.

    Returns
    -------
    str
        A section that ends with the sentence on local codes.
    """
    items = "".join(
        f"<li><strong>{escape(_(item.title))}.</strong> {escape(_(item.text))}</li>" for item in GENERAL
    )
    call = "".join(f"<li>{escape(contact.name)}: {escape(contact.phone or '-')}</li>" for contact in contacts)
    people = f"<h3>{escape(_('Whom to call'))}</h3><ul>{call}</ul>" if call else ""
    closing = f"<p><strong>{escape(_(CLOSING))}</strong></p>"
    return _section("cautions", _("Cautions"), f"<ul>{items}</ul>{people}{closing}")


def _section(key: str, head: str, content: str) -> str:
    return (
        f'<section id="{key}" aria-labelledby="{key}-head"><h2 id="{key}-head">{escape(head)}</h2>'
        f"{content}</section>"
    )


_KEY_GROUNDS = (
    ('<rect class="wetted-area" x="3" y="3" width="34" height="34"/>', N_("Watered ground")),
    (
        '<rect class="wetted-area" x="3" y="3" width="34" height="34"/>'
        '<path class="hatch-gun" d="M3 20L20 3M3 37L37 3M20 37L37 20"/>',
        N_("Watered by an end gun"),
    ),
    (
        '<rect class="drip-ground" x="3" y="3" width="34" height="34"/>'
        '<path class="guide thin" d="M3 9H37M3 16H37M3 23H37M3 30H37"/>',
        N_("Drip ground; lines show the way laterals run"),
    ),
    (
        '<path class="header" d="M3 14H37"/><path class="flush-line" d="M3 28H37"/>',
        N_("Header; flush line (broken)"),
    ),
    ('<rect class="dry-piece" x="3" y="3" width="34" height="34"/>', N_("Dry piece")),
    (
        '<rect class="exclusion" x="3" y="3" width="34" height="34" fill="#fff"/>'
        '<path class="hatch-out" d="M3 3L37 37M37 3L3 37M3 20L20 37M20 3L37 20M20 3L3 20M37 20L20 37"/>',
        N_("Not farmed"),
    ),
    (
        '<path class="keep-off" d="M3 20H37"/><path class="keep-off-stripe" d="M3 20H37"/>',
        N_("Kept clear of end guns: road, house, wire, stock water"),
    ),
    ('<path class="boundary" d="M3 20H37"/>', N_("Field boundary")),
    (
        '<path class="tower-track" d="M2 34Q20 8 38 34"/><text class="key-text" x="20" y="16">5</text>',
        N_("Wheel track of tower 5"),
    ),
    (
        '<rect class="corner-arm-sweep" x="3" y="3" width="34" height="34"/>'
        '<path class="arm-wheel-path" d="M3 30Q20 12 37 10"/>',
        N_("Swept by a corner arm; broken line: its steered wheels, with the distance they have walked"),
    ),
    (
        '<rect class="wetted-area" x="3" y="3" width="34" height="34"/>'
        '<path class="bend" d="M5 35A30 30 0 0 1 35 5L35 35Z"/><path class="bent-pipe" d="M35 35V8"/>',
        N_("Bend: outer spans walk on past a stop; thick line: as they stand then"),
    ),
    ('<path class="cart-path" d="M3 26L20 18L37 22"/>', N_("Path of a lateral move's cart, with travel")),
    (
        '<path class="pivot-road" d="M3 26L37 14"/><path class="pivot-road-middle" d="M3 26L37 14"/>',
        N_("Road to a pivot point, as the farm's files state it"),
    ),
    (
        '<path class="standing-case" d="M4 34L36 8"/><path class="standing" d="M4 34L36 8"/>'
        '<rect class="standing-tower" x="15" y="16" width="9" height="9"/>',
        N_("Machine where it stands; squares are its towers"),
    ),
    *(
        (
            f'<rect class="ground-{effect}" x="3" y="3" width="34" height="34"/><path class="mark-{effect}" '
            f'd="{drawn}"/>',
            words,
        )
        for effect, drawn, words in (
            (
                "dry",
                "M9 9h3M20 9h3M31 9h3M9 20h3M20 20h3M31 20h3M9 31h3M20 31h3M31 31h3",
                N_("Touched by the chosen flag: left dry"),
            ),
            ("wet", "M3 9H37M3 15H37M3 21H37M3 27H37M3 33H37", N_("Touched by the chosen flag: too wet")),
            ("stopped", "M3 26L26 3M8 37L37 8M24 37L37 24M3 12L12 3", N_("Held up by the chosen flag")),
        )
    ),
    ('<circle class="pivot-point" cx="20" cy="20" r="7"/>', N_("Pivot point")),
    (
        '<rect class="works" x="6" y="6" width="28" height="28"/>'
        '<text class="works-letter" x="20" y="27">{well_letter}</text>',
        N_("Well (G: gate)"),
    ),
)


def _lettered(drawn: str) -> str:
    return drawn.replace("{well_letter}", escape(point_letter("well")))


def _flag_row(
    flag: LocatedFlag, layouts: Sequence[FieldLayout], units: UnitSystem, anchors: Mapping[str, str]
) -> str:
    state = flag.state
    number = str(state.number)
    show = _("Show flag {number} on the map").format(number=number)
    target = anchors.get(flag.field or "", "drawn")
    words = [
        f'<span class="what">{escape(_(flag.kind.words))}</span>',
        f'<span class="place">{escape(flag_words(flag, units))}</span>',
        *(f'<span class="touches">{escape(line)}</span>' for line in note_lines(flag, layouts, units)),
    ]
    if state.note:
        words.append(f'<span class="note">{escape(state.note)}</span>')
    words += [f'<span class="clash">{escape(clash_words(clash))}</span>' for clash in state.clashes]
    return (
        f'<tr data-flag="{escape(state.id)}"><th scope="row"><a class="go" href="#{target}" '
        f'aria-label="{escape(show)}">{symbol_icon(state.status, number)}</a></th>'
        f'<td class="words">{"".join(words)}</td>'
        f'<td class="state">{escape(_(STATUS_WORDS.get(state.status, state.status)))}</td></tr>'
    )


def _figure(anchor: str, caption: str, drawn: str, notes: str = "") -> str:
    return f'<figure id="{anchor}"><figcaption><h3>{escape(caption)}</h3></figcaption>{drawn}{notes}</figure>'


def _heads(*words: str) -> str:
    return "".join(f'<th scope="col">{escape(word)}</th>' for word in words)


def _numbers(flags: Sequence[LocatedFlag]) -> str:
    return ", ".join(str(flag.state.number) for flag in flags)


def _strip(name: str, drawn: str, notes: str) -> str:
    said = f"<p>{escape(notes)}</p>" if notes else ""
    return f"<figure><figcaption><h3>{escape(name)}</h3></figcaption>{drawn}{said}</figure>"


def _box(groups: Sequence[FeatureGroup]) -> tuple[float, float, float, float]:
    bounds = [shape.bounds for group in groups for shape in group.shapes if shape is not None]
    west, south, east, north = zip(*bounds, strict=True)
    return min(west), min(south), max(east), max(north)


def _near(flag: LocatedFlag, own: Sequence[FeatureGroup]) -> bool:
    if flag.lon is None or flag.lat is None or flag.field is not None or not own:
        return False
    west, south, east, north = _box(own)
    return west <= flag.lon <= east and south <= flag.lat <= north


def _inside(group: FeatureGroup, own: Sequence[FeatureGroup]) -> FeatureGroup:
    west, south, east, north = _box(own)
    return group.select(
        [
            index
            for index, shape in enumerate(group.shapes)
            if west <= shape.x <= east and south <= shape.y <= north
        ]
    )


def counts_attributes(counts: Mapping[str, Any]) -> str:
    """Return the page's counts as data attributes, readable without a script.

    Parameters
    ----------
    counts : mapping of str to int
        What is counted, and how many.

    Returns
    -------
    str
        Attributes, each with a blank in front.

    Examples
    --------
    >>> counts_attributes({"flags": 3, "laterals": 528})
    ' data-flags="3" data-laterals="528"'
    """
    return "".join(f' data-{name}="{value}"' for name, value in counts.items())
