"""Plain names of plant families."""

from sowcal.crops.handbook import handbook
from sowcal.outputs.wording import PLAIN_NAMES, family_name


def test_every_family_of_the_handbook_has_a_plain_name_of_its_own():
    assert {crop.family for crop in handbook().values()} <= PLAIN_NAMES.keys()
    assert len(set(PLAIN_NAMES.values())) == len(PLAIN_NAMES)


def test_a_family_of_a_grower_s_own_stands_as_it_is():
    assert family_name("Musaceae") == "Musaceae"
    assert family_name("Fabaceae") == "pea family (Fabaceae)"
