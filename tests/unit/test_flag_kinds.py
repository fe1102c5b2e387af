"""Flag kinds: the list, what each sits on, and a class for each."""

from __future__ import annotations

from ringrow.equipment.kinds import CLASSES, FLAG_KINDS

GROUND = "leak wet-spot burrow rut washout rock loose-part other-ground"
MACHINE = (
    "sprinkler drop regulator span-leak tire wheel gearbox driveline alignment tower-box cover wiring "
    "collector-ring structure end-gun booster other-machine"
)
WORKS = (
    "power-unit battery fuel-supply drive-shaft pump panel filter valve air-vent flush-valve header-leak "
    "meter nest other-works"
)


def test_every_kind_sits_where_it_should() -> None:
    for on, names in (("ground", GROUND), ("machine", MACHINE), ("works", WORKS)):
        assert [kind.name for kind in FLAG_KINDS.values() if kind.on == on] == names.split()


def test_every_kind_has_its_name_a_class_and_words() -> None:
    for name, kind in FLAG_KINDS.items():
        assert kind.name == name
        assert kind.flag_class in CLASSES
        assert kind.words


def test_what_can_shock_catch_or_burn_is_unsafe_and_a_bad_gearbox_stops_the_circle() -> None:
    """Common practice, no source: shock and moving parts first, then what stops a machine."""
    unsafe = {name for name, kind in FLAG_KINDS.items() if kind.flag_class == "unsafe"}
    assert unsafe == {"tower-box", "cover", "wiring", "structure", "fuel-supply", "drive-shaft", "panel"}
    assert FLAG_KINDS["gearbox"].flag_class == "stops"
