"""Small libraries and briefs drawn at random, and the plainest way to tell whether one can be met."""

from __future__ import annotations

from hypothesis import strategies as st

from optiform.brief.models import Aim, Brief, Choose, Exclude, Include, Share, Target
from optiform.program import build
from optiform.search.ionic_strength import ground
from tests.builders import NEUTRAL, tiny_library

TAGS = ("plain", "fine")


@st.composite
def libraries(draw, systems=False):
    """Draw a library of surfactants, extracts and oils with use ranges, tags and prices."""
    materials, substances, parts = [], [], {}
    for place in range(draw(st.integers(2, 4))):
        name = f"wash-{place}"
        inci = f"Wash {place}"
        charge = draw(st.sampled_from(["anionic", "amphoteric", "nonionic"]))
        substances.append(
            {"inci": inci, "charge_class": charge, "mildness": float(draw(st.integers(20, 95))), **NEUTRAL}
        )
        parts[name] = {inci: float(draw(st.integers(20, 80)))}
        materials.append(
            {
                "id": name,
                "function": "surfactant",
                "price": draw(st.integers(5, 80)) / 10,
                "min_if_used": draw(st.sampled_from([0.0, 0.5, 2.0])),
                "max_use": draw(st.sampled_from([100.0, 40.0, 15.0])),
                "tags": (draw(st.sampled_from(TAGS)),),
            }
        )
    for place in range(draw(st.integers(1, 3))):
        materials.append(
            {
                "id": f"leaf-{place}",
                "function": "extract",
                "price": draw(st.integers(10, 200)) / 10,
                "min_if_used": draw(st.sampled_from([0.0, 0.5])),
                "max_use": draw(st.sampled_from([10.0, 3.0])),
                "tags": (draw(st.sampled_from(TAGS)),),
            }
        )
    return tiny_library(materials, substances, parts)


@st.composite
def briefs(draw):
    """Draw a brief of a few wishes that often, not always, collide."""
    library = draw(libraries())
    targets = {"active matter": Target(at_least=float(draw(st.integers(4, 30))))}
    if draw(st.booleans()):
        targets["mildness"] = Target(at_least=float(draw(st.integers(40, 95))))
    if draw(st.booleans()):
        targets["cost"] = Target(at_most=draw(st.integers(1, 40)) / 20)
    if draw(st.booleans()):
        targets["ingredients"] = Target(at_most=float(draw(st.integers(2, 5))))
    extract = {"at_least": draw(st.sampled_from([0.5, 2.0, 4.0]))}
    include = [Include(function="extract", **extract)] if draw(st.booleans()) else []
    if draw(st.booleans()):
        include.append(
            Include(material="leaf-0", at_least=1.5, at_most=draw(st.sampled_from([None, 1.5, 2.0])))
        )
    exclude = [Exclude(tag=draw(st.sampled_from(TAGS)))] if draw(st.booleans()) else []
    choose = [Choose(function="surfactant", at_least=draw(st.integers(1, 3)))] if draw(st.booleans()) else []
    share = (
        [Share(each="surfactant", at_most=float(draw(st.integers(20, 80))))] if draw(st.booleans()) else []
    )
    if draw(st.booleans()):
        share.append(Share(of="anionic", at_least=float(draw(st.integers(10, 90)))))
    return Brief(
        title="drawn at random",
        library=library,
        law="none",
        aim=Aim(),
        targets=targets,
        include=tuple(include),
        exclude=tuple(exclude),
        choose=tuple(choose),
        share=tuple(share),
    )


def possible(brief):
    """Tell whether a brief can be met, by stating it afresh and solving it."""
    return ground(build(brief)).first.values is not None
