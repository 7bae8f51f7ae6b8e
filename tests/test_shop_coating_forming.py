"""Electrocoat and forming, against figures by hand."""

from __future__ import annotations

import pytest
from builders import SECTION, STEEL
from shop_plans import FINISHING

from railgen.shop.coating import film
from railgen.shop.forming import forming, least_bend_radius


def test_film_by_hand() -> None:
    # 7 m2 under 25 um: 7e6 mm2 x 0.025 mm = 175 000 mm3 = 175 cm3; at 1300 kg/m3 227.5 g; at 30 mg/C 7583 C.
    coat = film(FINISHING.coating, 7e6, 25.0)
    assert coat.thickness == 25.0
    assert coat.volume == pytest.approx(175.0)
    assert coat.solids == pytest.approx(227.5)
    assert coat.charge == pytest.approx(7583.333, abs=1e-3)


def test_film_grows_with_its_thickness() -> None:
    thin, thick = (film(FINISHING.coating, 7e6, um) for um in (25.0, 35.0))
    assert thick.solids / thin.solids == pytest.approx(35 / 25)
    assert thick.charge / thin.charge == pytest.approx(35 / 25)


def test_least_bend_radius() -> None:
    # S700MC over 6 mm: 2.5 t (EN 10149-2, memory).
    assert least_bend_radius(STEEL, 9.5) == pytest.approx(23.75)


def test_bends_start_at_the_gauge_edge_and_allow_for_spring_back() -> None:
    springy = STEEL.model_copy(update={"spring_back": 5.0})
    plan = forming(SECTION, springy, "bottom")
    assert [(bend.flange, bend.angle) for bend in plan.bends] == [("bottom", 95.0), ("top", 95.0)]
    assert [bend.blank_y for bend in plan.bends] == [SECTION.lower_bend_blank_y, SECTION.upper_bend_blank_y]
    assert [bend.flange for bend in forming(SECTION, springy, "top").bends] == ["top", "bottom"]


@pytest.mark.parametrize(("ratio", "allowed"), [(2.5, True), (24 / 9.5, True), (2.53, False)])
def test_radius_is_held_against_the_steels_least(ratio: float, allowed: bool) -> None:
    steel = STEEL.model_copy(update={"least_bend_radius": ratio})
    plan = forming(SECTION, steel, "bottom")
    assert plan.inside_radius == SECTION.inside_radius
    assert plan.radius_allowed is allowed
