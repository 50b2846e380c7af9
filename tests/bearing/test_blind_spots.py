"""Layers that the oil does not show, and the build date as a prior.

Outside: Directive 2000/53/EC, Annex II, entries 4(a) and 4(b), looked up in lists that quote
it: shells and bushes in engines of cars first marketed before 1 July 2011 may hold lead, also
as spare parts later on.
"""

import pytest

from oiltrend.bearing.blind_spots import BlindSpot, LeadPrior, blind_spots, lead_prior
from oiltrend.bearing.material_names import parse_material
from oiltrend.bearing.materials import ShellMaterial
from oiltrend.errors import ValueRefused
from oiltrend.nomenclature import WEAR_METALS

USUAL = ("Fe", "Cu", "Pb", "Sn", "Al", "Cr", "Si")


@pytest.mark.parametrize(("text", "elements", "wanted"), [
    ("PbSn10Cu2/CuPb24Sn", USUAL, []),
    ("AlSn20Cu", USUAL, []),
    ("AlSn20Cu", ("Fe", "Al"), [("masked", "lining", "AlSn20Cu")]),
    ("AlSi11Cu", USUAL, [("masked", "lining", "AlSi11Cu")]),
    ("polymer/AlSn20Cu", USUAL, [("no_metal", "overlay", "polymer")]),
    ("polymer/CuPb24Sn", USUAL, [("no_metal", "overlay", "polymer"),
                                 ("lead_free_on_lead", "overlay", "polymer")]),
    ("Bi/CuSn10Bi3", USUAL, [("not_measured", "overlay", "Bi")]),
    ("Bi/CuSn10Bi3", (*USUAL, "Bi"), []),
    ("AlSn20/CuPb24Sn4", USUAL, [("lead_free_on_lead", "overlay", "AlSn20")]),
    ("SnCu6/CuSn8Ni", USUAL, []),
    ("PbIn7/CuPb30", USUAL, []),
    ("PbIn7/CuPb30", ("Fe", "Cu"), [("not_measured", "overlay", "PbIn7")]),
])
def test_blind_spots(text, elements, wanted):
    assert [tuple(spot) for spot in blind_spots(parse_material(text), elements)] == wanted


def test_nothing_known_is_no_blind_spot():
    assert blind_spots(ShellMaterial(None, None, ""), USUAL) == ()


def test_every_metal_measured_leaves_only_the_coating_and_the_sequence():
    codes = {spot.code for overlay in ("polymer", "Bi", "Ag", "SnCu6")
             for spot in blind_spots(ShellMaterial(overlay, "CuPb24Sn", "trimetal"), WEAR_METALS)}
    assert codes == {"no_metal", "lead_free_on_lead"}


def test_a_blind_spot_names_its_layer():
    assert BlindSpot("no_metal", "overlay", "polymer").designation == "polymer"


@pytest.mark.parametrize(("date", "eu_car", "wanted"), [
    ((2011, 6, 30), True, LeadPrior.POSSIBLE),
    ((2011, 7, 1), True, LeadPrior.UNLIKELY),
    ((2005, 3, 15), True, LeadPrior.POSSIBLE),  # spare shells of today may hold lead
    ((2019, 1, 1), True, LeadPrior.UNLIKELY),
    ((2019, 1, 1), False, LeadPrior.NO_STATEMENT),  # lorry, machine, motorcycle, elsewhere
    (None, True, LeadPrior.NO_STATEMENT),
])
def test_lead_prior(date, eu_car, wanted):
    assert lead_prior(date, eu_car=eu_car) is wanted


def test_a_date_in_another_order_is_refused():
    with pytest.raises(ValueRefused, match=r"^first_on_market: must be a year, month and day, "
                                           r"found \(1, 30, 2011\); write the year first$"):
        lead_prior((1, 30, 2011), eu_car=True)
