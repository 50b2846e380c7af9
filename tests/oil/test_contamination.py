"""Signs of coolant, dirt and copper: mixtures of known composition, confounders, gaps.

Rules of thumb carry no source unless one is named. Dust: ISO 12103-1, SiO2 68 to 76 %, Al2O3 10
to 15 % (from memory). CuPb24Sn: 19 to 27 % Pb, 0.6 to 2 % Sn, rest Cu (ISO 4383, from memory).
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.oil.contamination import (
    DUST_RATIO,
    CoolantCode,
    CopperCode,
    DirtCode,
    coolant_signs,
    copper_signs,
    dirt_signs,
    silicon_aluminium_ratio,
)
from oiltrend.oil.rises import OilReadings, oil_readings
from oiltrend.oil.signs import CONFOUNDERS

NAN = math.nan
SYMBOLS = ("Fe", "Cu", "Pb", "Sn", "Al", "Cr", "Si", "Na", "K", "B", "Mo", "P", "Ca", "Mg", "Zn",
           "water_pct", "glycol_pct")
# New oil with the elements of its additives; everything else starts from nothing.
FRESH = {"Si": 5.0, "Na": 4.0, "B": 80.0, "Mo": 60.0, "P": 900.0, "Ca": 2400.0, "Mg": 30.0,
         "Zn": 1000.0}


def sample(*, u=0.5, u_fresh=0.5, fresh=FRESH, **found):
    """One sample; a text such as "<5" is a reading below a limit, None was not measured."""
    value, below, above, new = [], [], [], []
    for symbol in SYMBOLS:
        start = fresh.get(symbol, 0.0)
        cell = found.get(symbol, start)
        text = str(cell)
        below.append(text.startswith("<"))
        above.append(text.startswith(">"))
        value.append(NAN if cell is None else float(text.lstrip("<>") or NAN))
        new.append(start)
    return oil_readings([value], [new], u=u, u_fresh=u_fresh, below=[below], above=[above],
                        symbols=SYMBOLS)


def name(signs, codes):
    return codes(int(signs.code[0])).name


NOTHING = dict.fromkeys(SYMBOLS)


@pytest.mark.parametrize(("found", "code", "support", "confounders"), [
    ({}, "NOT_SHOWN", (), ()),
    ({"Na": 60.0}, "INHIBITOR_ALONE", ("Na",), ("road_salt",)),
    ({"Na": 54.0}, "NOT_SHOWN", (), ()),  # 50 above new oil is not exceeded
    ({"K": 60.0}, "INHIBITOR_ALONE", ("K",), ()),
    ({"Na": 160.0, "K": 80.0, "B": 120.0}, "INHIBITOR_SUPPORTED", ("Na", "K", "B"), ()),
    ({"K": 80.0, "Mo": 75.0, "P": 950.0}, "INHIBITOR_SUPPORTED", ("K", "Mo", "P"), ()),
    ({"K": 80.0, "Si": 15.0}, "INHIBITOR_SUPPORTED", ("K", "Si"), ("silicon_source",)),
    ({"K": 80.0, "Si": 15.0, "water_pct": 0.3}, "INHIBITOR_SUPPORTED", ("K", "Si", "water_pct"),
     ()),
    ({"K": 80.0, "water_pct": 0.1}, "INHIBITOR_ALONE", ("K",), ()),  # handbook: above 0.1 %
    ({"water_pct": 0.11}, "WATER_ALONE", ("water_pct",), ("condensation",)),
    ({"water_pct": "<0.1"}, "NOT_SHOWN", (), ()),
    ({"glycol_pct": 0.02, "K": 90.0}, "GLYCOL", ("K", "glycol_pct"), ()),
    ({"glycol_pct": 0.02}, "GLYCOL", ("glycol_pct",), ("glycol_test",)),
    ({"glycol_pct": ">0.1", "Na": None}, "GLYCOL", ("glycol_pct",), ()),
    ({"glycol_pct": "<0.1"}, "NOT_SHOWN", (), ()),  # not found is not a positive
    ({"Na": 160.0, "K": 2.0, "Ca": 1500.0, "Mg": 600.0}, "INHIBITOR_ALONE", ("Na",),
     ("other_oil", "road_salt")),
    ({"Na": "<5", "K": "<5"}, "NOT_SHOWN", (), ()),
    ({"Na": "<99", "K": 1.0}, "CANNOT_TELL", (), ()),
    ({"K": ">400"}, "INHIBITOR_ALONE", ("K",), ()),
    ({**NOTHING, "water_pct": 0.02}, "NOT_MEASURED", (), ()),  # heat drives water out
    (NOTHING, "NOT_MEASURED", (), ()),
])
def test_coolant(found, code, support, confounders):
    told = coolant_signs(sample(**found))
    assert name(told, CoolantCode) == code
    assert told.support_of(0) == support
    assert told.confounders_of(0) == confounders


def test_coolant_strength_is_the_larger_rise():
    assert coolant_signs(sample(Na=104.0, K=25.0)).strength[0] == pytest.approx(2.0)
    assert np.isnan(coolant_signs(sample(**NOTHING)).strength[0])


def test_sodium_of_an_unknown_new_oil_may_be_its_additive():
    told = coolant_signs(sample(Na=300.0, K=1.0, fresh={**FRESH, "Na": NAN}))
    assert name(told, CoolantCode) == "CANNOT_TELL"
    assert told.confounders_of(0) == ("additive",)


def test_a_rise_within_the_precision_of_the_test_is_not_called():
    assert name(coolant_signs(sample(Na=90.0, u=50.0)), CoolantCode) == "CANNOT_TELL"


def test_rules_of_thumb_can_be_set():
    assert name(coolant_signs(sample(Na=30.0), least_rise=20.0), CoolantCode) == "INHIBITOR_ALONE"
    told = coolant_signs(sample(K=60.0, B=83.0), support_rise=2.0)
    assert name(told, CoolantCode) == "INHIBITOR_SUPPORTED"
    told = coolant_signs(sample(water_pct=0.08), water_level=0.05)
    assert name(told, CoolantCode) == "WATER_ALONE"


def test_the_ratio_of_dust_follows_from_its_composition():
    # By hand: 68·0.46744/(15·0.52926) and 76·0.46744/(10·0.52926).
    assert DUST_RATIO == pytest.approx((4.0038, 6.7123), abs=1e-3)


dust = st.tuples(st.floats(68.1, 75.9), st.floats(10.05, 14.95), st.floats(40.0, 400.0))


@given(dust)
def test_dust_of_any_allowed_composition_reads_as_dust(made):
    silica, alumina, amount = made
    told = dirt_signs(sample(Si=5.0 + amount * silica / 100 * 28.085 / 60.083,
                             Al=amount * alumina / 100 * 53.964 / 101.961, u=1e-3, u_fresh=1e-3))
    assert name(told, DirtCode) == "DUST"
    assert told.support_of(0) == ("Si", "Al")
    assert told.confounders_of(0)[:1] == ("sealant",)


@given(st.floats(0.0, 20.0), st.floats(25.0, 300.0))
def test_piston_alloy_reads_as_an_aluminium_part(silicon, amount):
    # Cast piston alloys hold up to 20 % silicon (from memory).
    told = dirt_signs(sample(Si=5.0 + amount * silicon / 100, Al=amount * (1 - silicon / 100),
                             u=1e-3))
    assert name(told, DirtCode) == "ALUMINIUM_PART"


@pytest.mark.parametrize(("found", "code", "confounders"), [
    ({}, "NOT_SHOWN", ()),
    ({"Si": 14.0}, "NOT_SHOWN", ()),
    ({"Si": 30.0, "Al": 0.0}, "SILICON_ALONE", ("sealant",)),
    ({"Si": 30.0, "Al": "<1"}, "SILICON_ALONE", ("sealant", "aluminium_not_measured")),
    ({"Si": 30.0, "Al": "<10"}, "CANNOT_TELL", ("sealant", "dust", "aluminium_not_measured")),
    ({"Si": 30.0, "Al": None}, "CANNOT_TELL", ("sealant", "aluminium_not_measured")),
    ({"Si": 30.0, "Al": 5.0, "Cr": 6.0, "Fe": 40.0}, "DUST", ()),
    ({"Si": 30.0, "Al": 5.0, "K": 90.0}, "DUST", ("sealant", "coolant")),
    ({"Si": 30.0, "Al": 10.0}, "SILICON_AND_ALUMINIUM", ("sealant",)),
    ({"Si": 25.0, "Al": 20.0}, "ALUMINIUM_PART", ("sealant",)),  # 20 to 20: ratio 1
    ({"Si": 5.0, "Al": 20.0}, "ALUMINIUM_PART", ()),
    ({"Si": ">60", "Al": 5.0}, "SILICON_ALONE", ("sealant",)),
    ({"Si": "<3", "Al": 30.0}, "ALUMINIUM_PART", ()),
    ({"Si": "<40", "Al": 30.0}, "CANNOT_TELL", ("aluminium_part",)),
    ({"Si": None, "Al": 2.0}, "NOT_MEASURED", ()),
    ({"Si": None, "Al": 30.0}, "CANNOT_TELL", ()),
    (NOTHING, "NOT_MEASURED", ()),
])
def test_dirt(found, code, confounders):
    told = dirt_signs(sample(**found, u=0.1, u_fresh=0.1))
    assert (name(told, DirtCode), told.confounders_of(0)) == (code, confounders)


def test_zones_that_the_precision_reaches_are_named():
    told = dirt_signs(sample(Si=30.0, Al=3.0, u=1.5, u_fresh=0.2))
    assert name(told, DirtCode) == "SILICON_ALONE"
    assert told.confounders_of(0) == ("sealant", "dust")
    told = dirt_signs(sample(Si=20.0, Al=12.0, u=2.5, u_fresh=0.2))
    assert name(told, DirtCode) == "SILICON_AND_ALUMINIUM"
    assert "aluminium_part" in told.confounders_of(0)


def test_silicon_of_an_unknown_new_oil_is_not_called_dirt():
    told = dirt_signs(sample(Si=40.0, Al=7.0, fresh={**FRESH, "Si": NAN}))
    assert name(told, DirtCode) == "CANNOT_TELL"
    assert "additive" in told.confounders_of(0)


def test_dirt_strength_and_its_rule_of_thumb():
    assert dirt_signs(sample(Si=30.0, Al=5.0)).strength[0] == pytest.approx(2.5)
    assert name(dirt_signs(sample(Si=12.0, Al=1.4, u=0.1, u_fresh=0.0), least_rise=6.0),
                DirtCode) == "DUST"


@given(st.floats(0.0, 500.0), st.floats(0.0, 200.0), st.floats(0.01, 5.0))
def test_the_ratio_lies_in_its_range(silicon, aluminium, u):
    ratio = silicon_aluminium_ratio(sample(Si=5.0 + silicon, Al=aluminium, u=u, u_fresh=u))
    assert 0.0 <= ratio.low[0] <= ratio.value[0] <= ratio.high[0]


@pytest.mark.parametrize(("found", "code", "support", "confounders"), [
    ({}, "NOT_SHOWN", (), ()),
    ({"Cu": 9.0, "Pb": 9.0}, "NOT_SHOWN", (), ()),
    ({"Cu": 80.0, "Pb": 3.0, "Sn": 0.5, "Al": 4.0}, "COPPER_ALONE", ("Cu",),
     ("lead_free_lining", "bush")),
    ({"Cu": 80.0, "Pb": "<1", "Sn": "<1", "Al": 2.0}, "COPPER_ALONE", ("Cu",),
     ("lead_free_lining", "bush")),
    ({"Cu": 80.0, "Pb": "<40", "Sn": "<1"}, "CANNOT_TELL", ("Cu",), ()),
    ({"Cu": 80.0, "Pb": None}, "CANNOT_TELL", ("Cu",), ("company_not_measured",)),
    ({"Cu": 80.0, "Pb": None, "Sn": 12.0}, "WITH_BEARING_METALS", ("Cu", "Sn"),
     ("company_not_measured",)),
    ({"Cu": 80.0, "Al": 30.0}, "WITH_BEARING_METALS", ("Cu", "Al"), ()),
    ({"Cu": 80.0, "Pb": ">50"}, "WITH_BEARING_METALS", ("Cu", "Pb"), ()),
    ({"Cu": 80.0, "K": 90.0}, "COPPER_ALONE", ("Cu",), ("lead_free_lining", "bush", "coolant")),
    ({"Cu": ">500"}, "CANNOT_TELL", ("Cu",), ()),
    ({"Cu": "<5"}, "NOT_SHOWN", (), ()),
    ({"Cu": None}, "NOT_MEASURED", (), ()),
])
def test_copper(found, code, support, confounders):
    told = copper_signs(sample(**found, u=0.1, u_fresh=0.1))
    assert name(told, CopperCode) == code
    assert told.support_of(0) == support
    assert told.confounders_of(0) == confounders


@given(st.floats(19.0, 27.0), st.floats(0.6, 2.0), st.floats(20.0, 200.0))
def test_lead_bronze_lining_is_never_copper_alone(lead, tin, amount):
    told = copper_signs(sample(Pb=amount * lead / 100, Sn=amount * tin / 100,
                               Cu=amount * (100 - lead - tin) / 100, u=0.05, u_fresh=0.05))
    assert name(told, CopperCode) == "WITH_BEARING_METALS"
    assert "Pb" in told.support_of(0)


def test_lead_within_its_precision_keeps_the_lining_possible():
    told = copper_signs(sample(Cu=40.0, Pb=5.0, u=2.0, u_fresh=0.2))  # 8 would be its share
    assert name(told, CopperCode) == "COPPER_ALONE"
    assert "lining" in told.confounders_of(0)
    told = copper_signs(sample(Cu=40.0, Pb=9.0, u=6.0, u_fresh=0.2))
    assert name(told, CopperCode) == "CANNOT_TELL"


def test_copper_of_an_unknown_new_oil():
    told = copper_signs(sample(Cu=80.0, fresh={**FRESH, "Cu": NAN}))
    assert name(told, CopperCode) == "CANNOT_TELL"
    assert told.confounders_of(0) == ("additive",)


def test_copper_strength():
    assert copper_signs(sample(Cu=25.0)).strength[0] == pytest.approx(2.5)


looked_for = pytest.mark.parametrize("look", [coolant_signs, dirt_signs, copper_signs])


@looked_for
def test_confounders_have_their_meaning_written_down(look):
    told = look(sample())
    assert set(told.confounders) <= set(CONFOUNDERS)
    assert told.confounder.shape == (1, len(told.confounders))
    assert told.support.shape == (1, len(told.supports))


def test_no_confounder_is_written_down_in_vain():
    used = {code for look in (coolant_signs, dirt_signs, copper_signs)
            for code in look(sample()).confounders}
    assert used == set(CONFOUNDERS)


cells = st.floats(0.0, 400.0) | st.just(NAN)


@looked_for
@given(rows=st.lists(st.lists(cells, min_size=17, max_size=17), min_size=1, max_size=5),
       below=st.lists(st.booleans(), min_size=17, max_size=17),
       fresh=st.lists(cells, min_size=17, max_size=17))
def test_many_samples_answer_as_each_alone_and_nothing_warns(look, rows, below, fresh):
    oils = oil_readings(rows, fresh, u=2.0, u_fresh=1.0, below=below, symbols=SYMBOLS)
    together = look(oils)
    for i in range(len(rows)):
        alone = look(OilReadings(SYMBOLS, *(getattr(oils, part)[i:i + 1] for part in (
            "value", "u", "fresh", "u_fresh", "below", "above"))))
        assert together.code[i] == alone.code[0]
        assert together.support_of(i) == alone.support_of(0)
        assert together.confounders_of(i) == alone.confounders_of(0)
        assert np.array_equal(together.strength[i], alone.strength[0], equal_nan=True)
    assert not together.confounder[together.code == 0].any()
    assert not together.confounder[together.code == -2].any()


@looked_for
def test_a_panel_without_the_elements_is_not_measured(look):
    told = look(oil_readings([[10.0]], 0.0, u=0.1, u_fresh=0.1, symbols=["V"]))
    assert told.code.tolist() == [-2]
    assert np.isnan(told.strength).all()
