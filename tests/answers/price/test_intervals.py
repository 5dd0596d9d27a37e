"""Between a bound and each printed end of its interval every re-solve costs what is told, within 3 %.

The re-solves are the slow judge's (tests/naive.py: SciPy, means by Charnes and Cooper), on libraries and briefs
drawn at random, for every kind of limit. `pytest -m slow` draws a thousand times.
"""

import numpy as np
import pytest

from optiform.answers.design import design
from optiform.answers.price.binding_limits import explain
from optiform.brief.models import Aim, Include, Prefer, Ratio, Share
from optiform.library.models import LinearRule, Needs, Rules, Term, When
from tests.answers.price.test_prices import WITHIN, resolve
from tests.program.comparing import polished
from tests.program.samples import SPECS, SYSTEMS, WASH, shelf, wash

PARTS = (0.25, 0.5, 0.75, 0.9, 0.98)
FAR = (1.0, 10.0, 100.0)
"""Where an interval has no end: so far from the bound."""
PRESERVED = (*WASH, "acid", "preserver", "alcohol", "nettle")
LARGE = 1000
KINDS = {"targets", "share", "ratio", "include", "library", "use", "pH", "system"}
EVERY_KIND = (4, 6, 18, 22)
"""Seeds whose briefs have a limit of every kind between them."""


def drawn(seed):
    """Return a brief drawn at random: prices, use ranges, rules and limits of every kind."""
    random = np.random.default_rng(seed)

    def maybe(part=0.5):
        return random.random() < part

    def between(low, high):
        return round(float(random.uniform(low, high)), 2)

    dosed = maybe(0.4)
    names = PRESERVED if dosed else WASH
    change = {name: {"price": round(SPECS[name]["price"] * between(0.5, 2.0), 3)} for name in names}
    for name in ("glucoside", "glycerin", "salt"):
        if maybe(0.3):
            change[name]["max_use"] = between(1.0, 9.0)
    rules = Rules(
        needs=(Needs(material="xanthan", other="glycerin", ratio=between(1.0, 6.0)),) if maybe(0.3) else (),
        when=(When(material="function:thickener", measure="mildness", at_least=between(56, 75)),)
        if maybe(0.3)
        else (),
        linear=(
            LinearRule(
                name="helpers",
                terms=(Term(material="glycerin"), Term(material="salt", times=2.0)),
                at_least=between(0.5, 4.0),
            ),
        )
        if maybe(0.3)
        else (),
    )
    targets = {"mildness": {"at_least": between(50, 80)}}
    if maybe(0.3):
        targets["natural origin without water"] = {"at_least": between(50, 90)}
    if maybe(0.3):
        targets["electrolyte"] = {"at_most": between(0.5, 1.5)}
    if dosed:
        low = between(4.0, 5.0)
        targets["pH"] = {"at_least": low, "at_most": low + between(0.2, 1.0)}
    aim = Aim()
    if maybe(0.3):
        aim = Aim(measure="mildness", sense="maximise") if maybe() else Aim(measure="irritation load")
        targets |= {"mildness": None, "cost": {"at_most": between(0.4, 1.2)}}
    share = [Share(each="surfactant", at_most=between(40, 80))] if maybe() else []
    share += [Share(of="anionic", at_least=between(5, 40))] if maybe() else []
    share += [Share(of="zwitter", at_most=between(20, 70))] if maybe() else []
    ratio = [Ratio(of="amphoteric", to="anionic", at_least=between(0.1, 1.5))] if maybe() else []
    ratio += [Ratio(of="glycerin", to="active matter", at_least=between(0.05, 0.5))] if maybe() else []
    include = [Include(material="xanthan", at_least=between(0.2, 1.0))] if maybe() else []
    return wash(
        shelf(*names, change=change, rules=rules, systems=SYSTEMS if dosed else ()),
        targets=targets,
        aim=aim,
        share=tuple(share),
        ratio=tuple(ratio),
        include=tuple(include),
    )


def told_and_measured(brief):
    """Yield for each printed end what is told per unit and what re-solving along the way costs."""
    for exact in polished(brief, 1):
        for binding in explain(exact):
            if binding.marginal_cost is None:
                continue
            here = binding.requirement.bound
            away = -1.0 if binding.requirement.side == "at_most" else 1.0
            base = resolve(brief, exact, binding.requirement, here)
            for end in (binding.holds_from, binding.holds_to):
                way = [here + part * (end - here) for part in PARTS]
                if np.isinf(end):
                    way = [here + np.sign(end) * far for far in FAR]
                for bound in way:
                    if abs(bound - here) > 1e-3:
                        there = resolve(brief, exact, binding.requirement, bound)
                        assert there is not None, (binding.requirement.title, end, bound)
                        yield binding, bound, away * (there - base) / (bound - here)


def assert_intervals(seed):
    kinds = set()
    for binding, bound, measured in told_and_measured(drawn(seed)):
        told = binding.marginal_cost
        kinds.add(binding.requirement.key.section)
        room = 3e-6 / abs(bound - binding.requirement.bound)
        assert measured == pytest.approx(told, rel=WITHIN, abs=2e-5 + room), (
            f"seed {seed}: {binding.requirement.title} holds {binding.holds_from} to {binding.holds_to}, "
            f"told {told}, at {bound} {measured}"
        )
    return kinds


@pytest.mark.parametrize("seed", range(30))
def test_every_printed_end_agrees_with_re_solves_along_the_way(seed):
    assert_intervals(seed)


def test_the_sample_holds_every_kind_of_limit():
    assert set().union(*(assert_intervals(seed) for seed in EVERY_KIND)) >= KINDS


@pytest.mark.parametrize("bound", [9.5, 11.0, 11.9])
@pytest.mark.parametrize("worth", [0.001, 0.02, 1.0])
def test_the_ends_of_a_soft_wish_agree_with_the_brief_designed_afresh(bound, worth):
    """Everything on the shelf is asked for, so that no choice is left but how much of each; the aim has its penalty."""
    names = ("anion", "zwitter", "xanthan", "glycerin")
    asked = tuple(Include(material=name, at_least=SPECS[name].get("min_if_used", 0.5)) for name in names)

    def wished(end):
        wish = Prefer(measure="active matter", at_least=end, worth=worth)
        return design(wash(shelf(*names), include=asked, prefer=(wish,))).formulas[0]

    first = wished(bound)
    (binding,) = [item for item in first.binding if item.requirement.key.section == "prefer"]
    for end in (binding.holds_from, binding.holds_to):
        for part in PARTS:
            there = bound + part * (end - bound) if np.isfinite(end) else bound + np.sign(end) * part
            if abs(there - bound) > 1e-3:
                measured = (wished(there).ranked_by - first.ranked_by) / (there - bound)
                assert measured == pytest.approx(binding.marginal_cost, rel=WITHIN, abs=2e-5)


@pytest.mark.slow
def test_every_printed_end_agrees_with_re_solves_on_a_thousand_libraries():
    kinds = set()
    for seed in range(30, LARGE):
        kinds |= assert_intervals(seed)
    assert kinds >= KINDS
