"""No formula that a formulator would laugh at: each usual guard holds, and without it the silly answer is there.

The guards are common practice, no source; their figures stand in the starter briefs and the starter library.
"""

import tomllib
from functools import cache, lru_cache

import numpy as np
import pytest

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.guards import missing_guards
from optiform.brief.models import Include, Target
from optiform.brief.reading import brief_from
from optiform.brief.starting import skins, starter_brief, textures
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.library.models import Rules
from optiform.library.selection import resolve
from tests.program.comparing import polished

PAIRS = [(skin, textures()[k % len(textures())]) for k, skin in enumerate(skins())]


@lru_cache(maxsize=1)
def starter():
    return load_library()


@cache
def brief_for(skin, texture):
    text = tomllib.loads(starter_brief(skin, texture)) | {"ranked": {"how_many": 2}}
    return brief_from(text, starter())


@cache
def answer_for(skin, texture):
    return design(brief_for(skin, texture))


def of(formula, function):
    """Return the lines whose material has a function, by id."""
    return {
        line.material: line.percent
        for line in formula.lines
        if function in starter().material[line.material].functions
    }


def active_of(formula):
    """Return the active matter of each surfactant substance, summed from the composition."""
    held = {}
    for name, percent in of(formula, "surfactant").items():
        if starter().material[name].function != "surfactant":
            continue
        for part in starter().composition[name]:
            if starter().substance[part.inci].charge_class:
                held[part.inci] = held.get(part.inci, 0.0) + percent * part.percent / 100
    return held


SAMPLE = [pair if k < 2 else pytest.param(*pair, marks=pytest.mark.slow) for k, pair in enumerate(PAIRS)]
"""The first two are the shelf of the tests below; all seven when the slow ones are asked for."""


@pytest.mark.parametrize(("skin", "texture"), SAMPLE)
def test_a_starter_brief_is_answered_sensibly(skin, texture):
    """One design per kind of skin: every guard by plain arithmetic on its lines."""
    brief, answer = brief_for(skin, texture), answer_for(skin, texture)
    assert (answer.status, answer.proven, len(answer.formulas)) == ("solved", True, 2)
    assert missing_guards(brief) == ()
    for formula in answer.formulas:
        lines = {line.material: line.percent for line in formula.lines}
        assert abs(sum(lines.values()) - 100.0) <= 1e-9
        _blend(formula)
        _preserved(formula)
        _dispersed(lines)
        _no_crumbs(brief, formula)
        _acidity(brief, formula)
        extract = next(w for w in brief.include if "extract" in (w.function or w.material or ""))
        assert max(of(formula, "extract").values()) >= extract.at_least - 1e-9 >= 0.5
        typed = TypedFormula(name="again", lines=tuple(lines.items()), total=100.0)
        assert evaluate(typed, starter(), brief).formulas[0].breaks == ()


def _blend(formula):
    """Pitfalls 1 and 2: no corner of one surfactant, no blend without anionic."""
    active = active_of(formula)
    total = sum(active.values())
    anionic = sum(v for inci, v in active.items() if starter().substance[inci].charge_class == "anionic")
    assert len(of(formula, "surfactant")) >= 2
    assert max(active.values()) <= 0.65 * total + 1e-6
    assert anionic >= 0.15 * total
    assert total == pytest.approx(formula.figure("active matter").value, abs=1e-9)


def _preserved(formula):
    """Pitfall 14: one whole system, each member inside its window; nothing of another system."""
    system = next(s for s in starter().systems if s.name == formula.system)
    held = of(formula, "preservative")
    for member, (low, high) in system.members.items():
        percent = next(line.percent for line in formula.lines if line.material == member)
        assert low - 1e-6 <= percent <= high + 1e-6
    assert set(held) <= set(system.members)
    assert formula.lines[0].material == "water"


def _dispersed(lines):
    """Pitfall 13: a gum comes with what wets it out, and never with what curdles it."""
    for rule in starter().rules.needs:
        used = sum(lines.get(name, 0.0) for name in resolve(rule.material, starter()))
        if used:
            helpers = sum(lines.get(name, 0.0) for name in resolve(rule.other, starter()))
            assert helpers >= (rule.ratio or 0.0) * used - 1e-6
            assert helpers > 0
    for pair in starter().rules.incompatible:
        one, other = ({n for n in resolve(side, starter()) if n in lines} for side in (pair.one, pair.other))
        assert not any(a != b for a in one for b in other), pair.why


def _no_crumbs(brief, formula):
    """Pitfalls 3 and 4: few ingredients, each at its least sensible dose, each weighable on this balance."""
    assert len(formula.lines) <= brief.targets["ingredients"].at_most <= 16
    for line in formula.lines:
        if line.function not in ("water", "acid", "base", "preservative"):
            assert line.percent >= max(starter().material[line.material].min_if_used, 0.01) - 1e-9
    assert formula.weighable is not None


def _acidity(brief, formula):
    """Pitfalls 14 and 27: the full balance puts the pH inside the brief's window and the preservative's."""
    target, system = brief.targets["pH"], next(s for s in starter().systems if s.name == formula.system)
    low, high = system.pH or (None, None)
    assert target.at_least - 1e-6 <= formula.acidity.pH <= target.at_most + 1e-6
    assert low is None or formula.acidity.pH >= low - 1e-6
    assert high is None or formula.acidity.pH <= high + 1e-6


# Without a guard: the same brief on a shelf of a few dozen materials, one guard taken away.

SHELF = (
    "sodium-laureth-sulfate-28", "sodium-laureth-sulfate-70", "cocamidopropyl-betaine-30", "coco-glucoside",
    "decyl-glucoside", "xanthan-gum", "cellulose-gum", "glycerin", "propanediol", "nettle-extract", "linden-extract",
    "citric-acid", "lactic-acid-80", "sodium-benzoate", "potassium-sorbate", "phenoxyethanol", "ethylhexylglycerin",
)  # fmt: skip


@lru_cache(maxsize=1)
def plain():
    answered = {line.material for pair in PAIRS[:2] for f in answer_for(*pair).formulas for line in f.lines}
    shelf = dict.fromkeys(sorted(answered | (set(SHELF) & set(starter().material))))
    return brief_for("normal", "gel").model_copy(update={"shelf": shelf})


def best(**changes):
    """Return the amounts of the best formula of the plain brief with some of its parts replaced."""
    (found,) = polished(plain().model_copy(update=changes), 1)
    return {
        name: float(found.amounts[i])
        for name, i in starter().arrays.material_index.items()
        if found.amounts[i] > 0
    }


@lru_cache(maxsize=1)
def guarded():
    return best()


def without(section, *words):
    """Return a section of the plain brief without the entries that name one of the words."""
    kept = [w for w in getattr(plain(), section) if not any(word in repr(w) for word in words)]
    assert len(kept) < len(getattr(plain(), section)), f"no such guard in {section}"
    return tuple(kept)


def summed(lines, function):
    return sum(p for name, p in lines.items() if function in starter().material[name].functions)


def share(lines, charge_class):
    held = dict.fromkeys(("anionic", "amphoteric", "nonionic", "cationic"), 0.0)
    for name, percent in lines.items():
        if starter().material[name].function == "surfactant":
            for part in starter().composition[name]:
                kind = starter().substance[part.inci].charge_class
                if kind:
                    held[kind] += percent * part.percent / 100
    return 100 * held[charge_class] / sum(held.values())


def surfactants(lines):
    return [name for name in lines if starter().material[name].function == "surfactant"]


def harsh(at_least=None):
    """Return the plain targets with another floor under mildness, or none."""
    targets = {name: target for name, target in plain().targets.items() if name != "mildness"}
    return targets if at_least is None else {**targets, "mildness": Target(at_least=at_least)}


def test_without_the_guards_of_the_blend_one_surfactant_stands_in_a_corner():
    lines = best(targets=harsh(), choose=without("choose", "surfactant"), share=(), ratio=())
    assert len(surfactants(lines)) == 1
    assert len(surfactants(best(targets=harsh()))) >= 2


def test_without_the_cap_one_surfactant_is_nearly_all():
    """Two are counted, but the second is a crumb."""
    lines = best(targets=harsh(), share=(), ratio=())
    assert len(surfactants(lines)) >= 2
    assert max(share(lines, kind) for kind in ("anionic", "amphoteric", "nonionic")) > 80
    assert (
        max(share(best(targets=harsh()), kind) for kind in ("anionic", "amphoteric", "nonionic")) <= 65 + 1e-6
    )


def test_without_the_anionic_share_a_gentle_wash_has_hardly_any():
    """All nonionic: poor lather, alkaline, hard to thicken."""
    floor = next(w.at_least for w in plain().share if w.of == "anionic")
    assert share(best(targets=harsh(80.0)), "anionic") >= floor - 1e-6
    assert (
        share(best(targets=harsh(80.0), share=without("share", "of='anionic'"), ratio=()), "anionic")
        < floor - 5
    )


def test_without_the_floor_the_extract_is_gone():
    hero = next(w for w in plain().include if w.material and "extract" in w.material)
    assert guarded()[hero.material] >= hero.at_least - 1e-9
    assert hero.material not in best(include=without("include", hero.material))


def test_without_the_floor_the_chelator_is_gone():
    assert summed(guarded(), "chelator") >= 0.1 - 1e-9
    assert summed(best(include=without("include", "chelator")), "chelator") == 0


def test_without_the_floor_nothing_thickens():
    lines = best(include=without("include", "thickener"), choose=without("choose", "thickener"))
    assert summed(guarded(), "thickener") > 0
    assert summed(lines, "thickener") < summed(guarded(), "thickener")


@pytest.mark.parametrize("measure", ["active matter", "mildness"])
def test_without_the_floor_it_is_what_is_saved_on(measure):
    targets = {name: target for name, target in plain().targets.items() if name != measure}
    catalogue_value = value_of(best(targets=targets), measure)
    assert value_of(guarded(), measure) >= plain().targets[measure].at_least - 1e-6
    assert catalogue_value < plain().targets[measure].at_least - 0.5


def value_of(lines, measure):
    from optiform.measures import Catalogue

    return Catalogue(starter()).find(measure).value(starter().arrays.amounts(lines.items()))


def test_without_a_preservative_system_water_stays_unpreserved():
    """The library's guard: with its systems there is exactly one, whatever it costs; without them there is none."""
    bare = starter().model_copy(update={"systems": ()})
    lines = best(library=bare)
    assert summed(lines, "preservative") == 0
    assert summed(guarded(), "preservative") > 0.3
    notes = missing_guards(plain().model_copy(update={"library": bare}))
    assert any("preservative" in note for note in notes)


def test_without_the_rule_a_gum_comes_without_its_dispersant():
    """The library's guard: xanthan is slurried in four times its weight of a polyol."""
    wish = {
        "include": (
            *without("include", "humectant", "thickener"),
            Include(material="xanthan-gum", at_least=0.6),
        ),
    }
    polyols = resolve("tag:dispersing", starter())
    lines = best(**wish)
    assert sum(lines.get(name, 0.0) for name in polyols) >= 4 * lines["xanthan-gum"] - 1e-6
    rules = starter().rules
    kept = Rules(incompatible=rules.incompatible, when=rules.when, linear=rules.linear)
    loose = best(**wish, library=starter().model_copy(update={"rules": kept}))
    assert sum(loose.get(name, 0.0) for name in polyols) < 4 * loose["xanthan-gum"]


def test_a_bare_brief_is_told_every_guard_it_lacks():
    """Nothing is imposed that no file states; but nothing usual is left out in silence."""
    targets = {"active matter": {"at_least": 8.0}, "pH": {"at_least": 5.0, "at_most": 5.5}}
    bare = brief_from({"title": "bare", "targets": targets}, starter())
    notes = " ".join(missing_guards(bare))
    words = (
        "single surfactant, two surfactants, anionic, mildness, thickener, chelator, ingredients, [weighing]"
    )
    assert [word for word in words.split(", ") if word not in notes] == []
    (found,) = polished(bare.model_copy(update={"shelf": plain().shelf}), 1)
    names = [name for name, i in starter().arrays.material_index.items() if found.amounts[i] > 0]
    assert len(surfactants(dict.fromkeys(names, 1.0))) == 1
    assert any(starter().material[name].function == "preservative" for name in names), (
        "the library's guard stays"
    )
    assert np.isclose(found.amounts.sum(), 100.0, atol=1e-9)
