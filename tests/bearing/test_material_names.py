"""Shell materials as people write them. No outside source: the spellings are ours to accept."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oiltrend.bearing.material_names import ASSUMED_ALLOYS, parse_material
from oiltrend.bearing.materials import LAYERS

READ = [
    ("PbSn10Cu2/CuPb24Sn", ("PbSn10Cu2", "CuPb24Sn", "trimetal", ())),
    (" pbsn10cu2 / CUPB24SN ", ("PbSn10Cu2", "CuPb24Sn", "trimetal", ())),
    ("Pb Sn10 Cu2 on CuPb24Sn4", ("PbSn10Cu2", "CuPb24Sn4", "trimetal", ())),
    ("lead-tin", ("PbSn10Cu2", None, "trimetal", ("overlay",))),
    ("lead-tin overlay on copper-lead",
     ("PbSn10Cu2", "CuPb24Sn", "trimetal", ("overlay", "lining"))),
    ("lead-indium overlay on copper-lead lining",
     ("PbIn7", "CuPb24Sn", "trimetal", ("overlay", "lining"))),
    ("PbIn7/CuPb24Sn", ("PbIn7", "CuPb24Sn", "trimetal", ())),
    ("aluminium-tin", (None, "AlSn20Cu", "bimetal", ("lining",))),
    ("Aluminum Tin bearings", (None, "AlSn20Cu", "bimetal", ("lining",))),
    ("AlSn20Cu", (None, "AlSn20Cu", "bimetal", ())),
    ("AlSn20", (None, "AlSn20Cu", "bimetal", ("lining",))),
    ("AlSn20/CuPb24Sn4", ("AlSn20", "CuPb24Sn4", "trimetal", ())),
    ("sputtered on CuPb24Sn4", ("AlSn20", "CuPb24Sn4", "trimetal", ("overlay",))),
    ("SAE 783", (None, "AlSn20Cu", "bimetal", ())),
    ("SAE 794", (None, "CuPb24Sn4", "", ())),
    ("copper-lead", (None, "CuPb24Sn", "", ("lining",))),
    ("tri-metal AlSn20Cu", (None, "AlSn20Cu", "trimetal", ())),
    ("three-layer lead-tin", ("PbSn10Cu2", None, "trimetal", ("overlay",))),
    ("bimetal copper-lead", (None, "CuPb24Sn", "bimetal", ("lining",))),
    ("polymer-coated AlSn20Cu", ("polymer", "AlSn20Cu", "polymer", ())),
    ("polymer", ("polymer", None, "polymer", ())),
    ("Bi/CuSn10Bi3", ("Bi", "CuSn10Bi3", "trimetal", ())),
]


@pytest.mark.parametrize(("text", "wanted"), READ)
def test_is_read(text, wanted):
    found = parse_material(text)
    assert found is not None
    assert (found.overlay, found.lining, found.structure, found.assumed) == wanted


@pytest.mark.parametrize("text", [
    "", " ", "/", "on", "unobtainium", "tri-metal", "bearing shells", "babbitt", "white metal",
    "lead", "PbSn10Cu2/something", "something/CuPb24Sn", "CuPb24Sn/PbSn10Cu2",
    "PbSn10Cu2/CuPb24Sn/steel", "bimetal PbSn10Cu2/CuPb24Sn", "AlSn20Cu AlSn20Cu", "PbSn10Cu3",
    "783", "Sn flash", "Ni barrier"])
def test_is_never_guessed(text):
    assert parse_material(text) is None


@pytest.mark.parametrize("designation", [
    name for name, layer in LAYERS.items() if layer.role in ("overlay", "lining")])
def test_every_designation_is_read_as_itself(designation):
    role = LAYERS[designation].role
    text = f"{designation}/CuPb24Sn" if role == "overlay" else designation
    found = parse_material(text)
    assert found is not None
    assert getattr(found, role) == designation
    assert role not in found.assumed


def test_what_is_assumed_is_stated():
    for text, (overlay, lining, _, assumed) in READ:
        for role, designation in (("overlay", overlay), ("lining", lining)):
            if role in assumed:
                assert "assumed" in ASSUMED_ALLOYS[designation], text


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_whole(text):
    found = parse_material(text)
    if found is not None:
        assert found.overlay or found.lining
        for designation in (found.overlay, found.lining):
            assert designation is None or designation in LAYERS


@given(st.sampled_from([text for text, _ in READ]), st.sampled_from(["x", "%", "7", "best"]))
def test_a_word_more_is_not_swallowed(text, word):
    # Signs between letters are only a way of writing; letters and digits are not.
    found = parse_material(f"{text} {word}")
    assert found == parse_material(text) if word == "%" else found is None
