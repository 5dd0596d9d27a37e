"""Words that make a wash a medicine or need proof; the provisions are those named in each row.

Sources: Directive 2001/83/EC, Article 1(2); Regulation (EU) 655/2013; section 201(g) of the FD&C Act; 21 CFR 740.17.
"""

import pytest

from optiform.law import claim_cautions
from optiform.law.shipped import shipped_claims


@pytest.mark.parametrize(
    ("jurisdiction", "title", "word", "provision"),
    [
        ("EU", "Eczema wash with oat", '"eczema"', "2001/83/EC"),
        ("EU", "Anti Bacterial hand wash", '"anti-bacterial"', "528/2012"),
        ("EU", "Quince wash, tear free", '"tear-free"', "655/2013"),
        ("UK", "Nettle wash for psoriasis", '"psoriasis"', "Human Medicines Regulations"),
        ("US", "Dandruff shampoo", '"dandruff"', "21 CFR 358"),
        ("US", "Linden bubble bath", '"bubble bath"', "21 CFR 740.17"),
        ("US", "Acne wash", '"acne"', "201(g)"),
    ],
)
def test_a_word_is_told_with_the_law_behind_it(jurisdiction, title, word, provision):
    (told,) = claim_cautions(jurisdiction, [title])
    assert told.startswith(word)
    assert provision in told


@pytest.mark.parametrize(
    "title", ["Nettle gel wash, oily skin", "Healthy heather soap", "Curedale linden wash"]
)
def test_only_whole_words_count(title):
    """`heal`, `cure` and `heather` share letters with the words of the list and are none of them."""
    assert claim_cautions("EU", [title]) == ()


def test_places_differ_and_no_law_says_nothing():
    assert claim_cautions("EU", ["Dandruff shampoo"]) == ()
    assert claim_cautions("none", ["Eczema wash"]) == ()


def test_several_words_of_one_kind_are_one_caution_and_a_claim_counts_like_the_title():
    (told,) = claim_cautions("EU", ["Linden wash", "against eczema and psoriasis"])
    assert told.startswith('"eczema", "psoriasis" names an illness')


def test_every_row_has_a_source_and_a_provision():
    for claim in shipped_claims():
        assert claim.source and claim.provision and claim.words
        assert claim.caution[0].islower() and not claim.caution.endswith(".")
