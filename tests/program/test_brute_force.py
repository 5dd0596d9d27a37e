"""Random small libraries and briefs: the ranking is that of the slow judge, and what must not matter does not."""

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optiform.answers.design import design
from optiform.brief.models import Aim, Brief, Choose, Include, Ranked, Ratio, Share, Target
from optiform.library.models import (
    Incompatible,
    Library,
    LinearRule,
    Needs,
    PreservativeSystem,
    Rules,
    Term,
    When,
)
from optiform.program import build
from optiform.search.ionic_strength import ground
from tests.builders import NEUTRAL, tiny_library
from tests.naive import Naive
from tests.program.comparing import assert_same_ranking, polished, shape
from tests.program.samples import SYSTEMS, shelf, wash

FUNCTIONS = ("surfactant", "surfactant", "surfactant", "thickener", "humectant", "extract", "oil")
SUITE = {"deadline": None, "suppress_health_check": list(HealthCheck)}
quarter = st.integers(1, 40).map(lambda n: n / 4)


@st.composite
def libraries(draw, size=None):
    """Draw five to seven materials besides water, with composition, use ranges and up to two systems."""
    size = size or draw(st.integers(5, 6))
    materials, substances, parts = [], [], {}
    for index in range(size):
        function = FUNCTIONS[index]
        name, inci = f"m{index}", f"S{index}"
        low = draw(st.sampled_from([0.0, 0.5, 1.0]))
        material = {"id": name, "function": function, "price": draw(quarter), "min_if_used": low,
                    "max_use": draw(st.sampled_from([3.0, 10.0, 40.0]))}  # fmt: skip
        substance = {"inci": inci, "charge_acid_form": 0.0, "strong_charge": 0.0,
                     "tags": tuple(draw(st.lists(st.sampled_from(["red", "blue"]), max_size=1)))}  # fmt: skip
        if function == "surfactant":
            substance["charge_class"] = draw(st.sampled_from(["anionic", "amphoteric", "nonionic"]))
            substance["mildness"] = draw(st.sampled_from([30, 50, 70, 90]))
        materials.append(material)
        substances.append(substance)
        parts[name] = {inci: draw(st.sampled_from([25.0, 40.0, 80.0]))}
        if index:
            parts[name]["S0"] = draw(st.sampled_from([0.0, 0.0, 5.0]))
    systems = ()
    if draw(st.booleans()):
        materials.append({"id": "keeper", "function": "preservative", "price": draw(quarter), "max_use": 1.0})
        windows = ((0.4, 0.6), (0.8, 1.0))
        systems = tuple(
            PreservativeSystem(name=f"system {k}", members={"keeper": windows[k]})
            for k in range(draw(st.integers(1, 2)))
        )
    return tiny_library(materials, substances, parts, systems=systems)


def names(library: Library) -> list[str]:
    return [m.id for m in library.materials if m.function not in ("water", "preservative")]


@st.composite
def briefs(draw, size=None):
    """Draw a brief with a few rules of different kinds on a random library."""
    library = draw(libraries(size))
    ids = names(library)
    pick = st.sampled_from([*ids, "function:surfactant", "tag:red", "tag:blue"])
    targets = {"active matter": Target(at_least=draw(st.sampled_from([2.0, 5.0])), at_most=12.0)}
    if draw(st.booleans()):
        targets["mildness"] = Target(at_least=draw(st.sampled_from([40.0, 60.0])))
    if draw(st.booleans()):
        targets["cost"] = Target(at_most=draw(st.sampled_from([0.8, 2.0])))
    if draw(st.integers(0, 3)) == 0:
        targets["ingredients"] = Target(at_most=float(draw(st.integers(3, 5))))
    rules = {}
    if draw(st.booleans()):
        rules["needs"] = (
            Needs(material=draw(pick), other=draw(pick), ratio=draw(st.sampled_from([None, 0.5, 2.0]))),
        )
    if draw(st.booleans()):
        rules["incompatible"] = (Incompatible(one=draw(pick), other=draw(pick)),)
    if draw(st.booleans()):
        measure, bound = draw(
            st.sampled_from([("mildness", 60.0), ("active matter", 6.0), ("substance:S0", 0.5)])
        )
        side = draw(st.sampled_from(["at_least", "at_most"]))
        rules["when"] = (When(material=draw(pick), measure=measure, **{side: bound}),)
    if draw(st.integers(0, 3)) == 0:
        terms = tuple(
            Term(material=name, times=draw(st.sampled_from([-1.0, 1.0, 2.0])))
            for name in draw(st.sets(st.sampled_from(ids), min_size=2, max_size=3))
        )
        rules["linear"] = (LinearRule(name="rule", terms=terms, at_most=draw(st.sampled_from([0.0, 4.0]))),)
    return Brief(
        title="random",
        library=library,
        law="none",
        targets=targets,
        include=tuple(
            Include(material=name, at_least=draw(st.sampled_from([None, 1.5])))
            for name in draw(st.sets(st.sampled_from(ids), max_size=1))
        ),
        choose=tuple(
            Choose(function="surfactant", at_least=low, at_most=high)
            for low, high in draw(st.sampled_from([(), ((2, None),), ((1, 2),), ((None, 2),)]))
        ),
        share=tuple(
            draw(
                st.sampled_from(
                    [(), (Share(each="surfactant", at_most=70.0),), (Share(of="anionic", at_least=20.0),)]
                )
            )
        ),
        ratio=tuple(
            draw(
                st.sampled_from(
                    [(), (Ratio(of="m4", to="m3", at_least=2.0),), (Ratio(of="m1", to="m0", at_most=3.0),)]
                )
            )
        ),
        rules=Rules(**rules),
        aim=draw(
            st.sampled_from(
                [Aim(), Aim(), Aim(measure="irritation load"), Aim(measure="mildness", sense="maximise")]
            )
        ),
        ranked=Ranked(
            differ_in=draw(st.sampled_from([("surfactant", "thickener", "preservative"), ("surfactant",)]))
        ),
    )


@settings(max_examples=16, **SUITE)
@given(brief=briefs())
def test_the_ranking_is_that_of_the_judge(brief):
    """Every structure that exists, each at its best, in order, to 1e-6."""
    assert_same_ranking(brief)


@st.composite
def acid_briefs(draw):
    """Draw a brief with a pH, dosed or left to the bench, on the sample shelf with its preservative systems."""
    kept = draw(st.sets(st.sampled_from(["zwitter", "glycerin", "xanthan", "cationic-gum"]), max_size=2))
    shelved = ("anion", "glucoside", "acid", "preserver", "alcohol", *sorted(kept))
    low = draw(st.sampled_from([None, 3.5, 4.0, 4.6, 5.5]))
    high = draw(st.sampled_from([None, 4.6, 5.0, 6.0, 7.5]))
    assume((low is not None or high is not None) and (low is None or high is None or low <= high))
    when = When(material="glucoside", measure="pH", at_least=draw(st.sampled_from([3.8, 4.7])))
    library = shelf(
        *shelved,
        systems=tuple(draw(st.sampled_from([SYSTEMS, SYSTEMS[:1], SYSTEMS[1:], ()]))),
        change={
            "glucoside": {
                "free_alkali": draw(st.sampled_from([-20.0, 0.0, 40.0, 90.0])),
                "price": draw(quarter),
            }
        },
        rules=Rules(when=(when,) if draw(st.booleans()) else ()),
    )
    ends = {"at_least": low, "at_most": high, "set": draw(st.sampled_from(["dosed", "dosed", "bench"]))}
    return wash(
        library,
        targets={"pH": ends, "mildness": {"at_least": draw(st.sampled_from([45.0, 60.0, 80.0]))}},
        share=(Share(each="surfactant", at_most=80.0),) if draw(st.booleans()) else (),
    )


@settings(max_examples=8, **SUITE)
@given(brief=acid_briefs())
def test_the_ranking_with_a_pH_is_that_of_the_judge(brief):
    """Windows of the brief, of systems, of materials and of rules, dosed exactly or gated for the bench."""
    assert_same_ranking(brief)


@settings(max_examples=10, **SUITE)
@given(brief=st.one_of(briefs(7), acid_briefs()), how_many=st.integers(1, 6))
def test_a_design_lists_what_the_judge_lists(brief, how_many):
    """The whole question: the first formulas are the judge's, in order, proven; or there is a conflict."""
    asked = brief.model_copy(update={"ranked": brief.ranked.model_copy(update={"how_many": how_many})})
    answer = design(asked)
    dosed = "pH" in brief.targets and brief.targets["pH"].set == "dosed"
    strength = ground(build(asked)).program.catalogue.conditions.ionic_strength if dosed else 0.1
    expected = Naive(asked, strength).ranking()[:how_many]
    assume(not any(((best.amounts > 0) & (best.amounts < 0.01)).any() for best in expected))
    assert (answer.status, answer.proven) == ("solved" if expected else "conflict", True)
    sign = 1.0 if brief.aim.sense == "minimise" else -1.0
    reached = sorted(sign * formula.aim for formula in answer.formulas)
    wanted = [best.objective for best in expected]
    assert reached == pytest.approx(wanted, rel=0.01 if dosed else 1e-7, abs=1e-6)
    for formula in answer.formulas:
        assert abs(sum(line.percent for line in formula.lines) - 100.0) <= 1e-9


def first(brief: Brief):
    """Return the best formula, or None."""
    return next(iter(polished(brief, 1)), None)


def tightened(brief: Brief, kind: str, step: float) -> Brief:
    targets = dict(brief.targets)
    if kind == "active matter":
        old = targets[kind]
        targets[kind] = Target(at_least=old.at_least + step, at_most=old.at_most - step)
    elif kind == "mildness":
        targets[kind] = Target(at_least=(targets[kind].at_least if kind in targets else 30.0) + 5 * step)
    else:
        return brief.model_copy(update={"choose": (*brief.choose, Choose(function="thickener", at_least=1))})
    return brief.model_copy(update={"targets": targets})


@settings(max_examples=14, **SUITE)
@given(
    brief=briefs(7),
    kind=st.sampled_from(["active matter", "mildness", "choose"]),
    step=st.sampled_from([0.1, 1.0, 3.0]),
)
def test_tightening_never_gets_cheaper(brief, kind, step):
    plain, tight = first(brief), first(tightened(brief, kind, step))
    if tight is not None:
        assert plain is not None
        assert tight.objective >= plain.objective - 1e-7


def mixed(brief: Brief, order: list[int], rename) -> Brief:
    """Return the brief on a library whose materials are in another order and have other names."""
    library = brief.library
    materials = [library.materials[k] for k in order]
    text = library.model_copy(
        update={
            "materials": tuple(
                m.model_copy(update={"id": rename(m.id), "name": rename(m.name)}) for m in materials
            ),
            "substances": tuple(reversed(library.substances)),
            "parts": tuple(
                part.model_copy(update={"material": rename(part.material)})
                for part in sorted(library.parts, key=lambda part: part.inci)
            ),
            "systems": tuple(
                s.model_copy(update={"members": {rename(k): v for k, v in s.members.items()}})
                for s in reversed(library.systems)
            ),
        }
    )

    def word(reference: str | None) -> str | None:
        return rename(reference) if reference and ":" not in reference else reference

    rules = brief.rules
    return brief.model_copy(
        update={
            "library": text,
            "include": tuple(w.model_copy(update={"material": word(w.material)}) for w in brief.include),
            "ratio": tuple(
                r.model_copy(update={"of": rename(r.of), "to": rename(r.to)}) for r in brief.ratio
            ),
            "rules": Rules(
                needs=tuple(
                    r.model_copy(update={"material": word(r.material), "other": word(r.other)})
                    for r in rules.needs
                ),
                incompatible=tuple(
                    r.model_copy(update={"one": word(r.one), "other": word(r.other)})
                    for r in rules.incompatible
                ),
                when=tuple(r.model_copy(update={"material": word(r.material)}) for r in rules.when),
                linear=tuple(
                    r.model_copy(
                        update={
                            "terms": tuple(
                                t.model_copy(update={"material": word(t.material)}) for t in r.terms
                            )
                        }
                    )
                    for r in rules.linear
                ),
            ),
        }
    )


@settings(max_examples=12, **SUITE)
@given(brief=briefs(7), data=st.data())
def test_order_and_names_in_the_library_change_nothing(brief, data):
    """Cost, aim and structure stay, up to ties, when materials, substances and systems are shuffled and renamed."""
    order = data.draw(st.permutations(range(len(brief.library.materials))))

    def rename(name: str) -> str:
        return f"z{(7 * int(name[1:]) + 3) % 10}-{name}" if name[1:].isdigit() and name[0] == "m" else name

    before, after = polished(brief, 4), polished(mixed(brief, order, rename), 4)
    assert [p.objective for p in after] == pytest.approx([p.objective for p in before], abs=1e-7)
    gaps = np.diff([p.objective for p in before])
    if len(before) and (gaps > 1e-6).all() and len(before) < 4:
        for one, other in zip(before, after, strict=True):
            old, system = shape(one.program, one.values)
            assert shape(other.program, other.values) == (frozenset(map(rename, old)), system)


@settings(max_examples=12, **SUITE)
@given(brief=briefs(6), price=quarter, active=st.sampled_from([25.0, 60.0]))
def test_adding_a_material_never_gets_dearer(brief, price, active):
    assume("ingredients" not in brief.targets)
    library = brief.library
    more = tiny_library([{"id": "newcomer", "function": "surfactant", "price": price}],
                        [{"inci": "New", "charge_class": "nonionic", "mildness": 60, **NEUTRAL}],
                        {"newcomer": {"New": active}})  # fmt: skip
    wider = library.model_copy(
        update={
            "materials": (*library.materials, more.material["newcomer"]),
            "substances": (*library.substances, more.substance["New"]),
            "parts": (*library.parts, *more.composition["newcomer"]),
        }
    )
    before, after = first(brief), first(brief.model_copy(update={"library": wider}))
    if before is not None:
        assert after is not None
        assert after.objective <= before.objective + 1e-7


@settings(max_examples=10, **SUITE)
@given(brief=briefs(7))
def test_three_runs_give_the_same_digits(brief):
    runs = [[p.values.tobytes() for p in polished(brief, 3)] for _ in range(3)]
    assert runs[0] == runs[1] == runs[2]
