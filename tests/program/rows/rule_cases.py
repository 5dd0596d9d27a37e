"""Briefs with one rule each, beside the same brief without it."""

from optiform.brief.models import Choose, Exclude, Include, Ratio, Share, Weighing
from optiform.library.models import (
    ColumnMeasure,
    Incompatible,
    LinearRule,
    Needs,
    Rules,
    Term,
    When,
)
from tests.program.samples import SYSTEMS, WASH, shelf, wash

GUMS = ("anion", "zwitter", "glucoside", "xanthan", "cationic-gum", "glycerin")
THICK = {"include": (Include(function="thickener"),)}
BOTH_GUMS = {"include": (Include(material="xanthan"), Include(material="cationic-gum"))}
IODINE = {
    "anion": {"extra": {"feel": 2.0}},
    "zwitter": {"extra": {"feel": 5.0}},
    "glucoside": {"extra": {"feel": 9.0}},
}
FEEL = (ColumnMeasure(name="feel", column="feel", unit="points", basis="active matter", better="higher"),)


def ruled(kind, rule, library=None, **fields):
    """Return a brief with one rule, and the same brief without it."""
    return wash(library, rules=Rules(**{kind: (rule,)}), **fields), wash(library, **fields)


def housed(kind, rule, names=WASH, change=None, **fields):
    """Return a brief whose library brings one rule, and the same brief without it."""
    rules = Rules(**{kind: (rule,)})
    with_rule, without = shelf(*names, change=change, rules=rules), shelf(*names, change=change)
    return wash(with_rule, **fields), wash(without, **fields)


def more(library=None, targets=None, **fields):
    """Return a wash with something more, and the plain one."""
    return wash(library, targets=targets, **fields), wash(library)


GLYCERINE = Include(material="glycerin", at_least=1.0)
CASES = {
    "target at least": more(targets={"mildness": {"at_least": 75.0}}),
    "target at most": more(targets={"irritation load": {"at_most": 100.0}}),
    "target window on a substance": more(targets={"substance:Salt": {"at_least": 0.5, "at_most": 0.6}}),
    "target on a class": more(targets={"anionic": {"at_least": 3.0}}),
    "target on a tag": more(targets={"tag:sulfate": {"at_least": 3.0}}),
    "target on a function": more(targets={"function:humectant": {"at_least": 2.0}}),
    "target on electrolyte": more(targets={"electrolyte": {"at_least": 0.8}}),
    "target on a share": more(targets={"share:amphoteric": {"at_least": 30.0}}),
    "target on natural origin": more(targets={"natural origin without water": {"at_least": 99.0}}),
    "target on cost": more(targets={"cost": {"at_most": 0.43}}),
    "a fixed target": more(targets={"active matter": {"at_least": 9.5, "at_most": 9.5}}),
    "ingredients at most": more(targets={"ingredients": {"at_most": 2.0}}),
    "ingredients at least": more(targets={"ingredients": {"at_least": 5.0}}),
    "include a material": more(include=(Include(material="zwitter"),)),
    "include at least": more(include=(Include(material="glycerin", at_least=3.0),)),
    "include at most": more(include=(Include(material="glycerin", at_most=0.4),)),
    "include exactly": more(include=(Include(material="xanthan", at_least=0.7, at_most=0.7),)),
    "include a function": more(include=(Include(function="thickener", at_least=0.5),)),
    "include a substance": more(include=(Include(substance="Zwitterion", at_least=1.0),)),
    "include a tag": more(include=(Include(tag="sulfate", at_least=1.0),)),
    "include a tag, merely used": more(include=(Include(tag="gum"),)),
    "exclude a material": more(
        exclude=(Exclude(material="glucoside"),), targets={"mildness": {"at_least": 45.0}}
    ),
    "exclude a substance": more(exclude=(Exclude(substance="Anion"),)),
    "exclude a function": more(exclude=(Exclude(function="thickener"),)),
    "exclude a tag": more(exclude=(Exclude(tag="sulfate"),)),
    "choose at least": more(choose=(Choose(function="surfactant", at_least=2),)),
    "choose at most": (
        wash(choose=(Choose(function="surfactant", at_most=1),), targets={"mildness": {"at_least": 60.0}}),
        wash(targets={"mildness": {"at_least": 60.0}}),
    ),
    "choose exactly": more(choose=(Choose(function="surfactant", at_least=3, at_most=3),)),
    "choose among": more(choose=(Choose(among=("zwitter", "xanthan"), at_least=1),)),
    "choose by tag": more(choose=(Choose(tag="gum", at_least=1),)),
    "share of a class": more(share=(Share(of="anionic", at_least=30.0, at_most=65.0),)),
    "share of a material": more(share=(Share(of="zwitter", at_least=10.0),)),
    "share of a substance": more(share=(Share(of="Glucoside", at_most=50.0),)),
    "share of a tag": more(share=(Share(of="sulfate", at_least=25.0),)),
    "share of each surfactant": more(share=(Share(each="surfactant", at_most=45.0),)),
    "share of each of a class": more(share=(Share(each="nonionic", at_most=45.0),)),
    "share in another base": more(
        include=(GLYCERINE, Include(material="xanthan", at_least=1.0)),
        share=(Share(of="xanthan", base="function:humectant", at_most=20.0),),
    ),
    "ratio at least": more(
        ratio=(Ratio(of="amphoteric", to="anionic", at_least=0.5),), targets={"anionic": {"at_least": 2.0}}
    ),
    "ratio at most": (
        wash(
            ratio=(Ratio(of="anionic", to="amphoteric", at_most=2.0),), targets={"anionic": {"at_least": 2.0}}
        ),
        wash(targets={"anionic": {"at_least": 2.0}}),
    ),
    "ratio of functions": (
        wash(**THICK, ratio=(Ratio(of="function:humectant", to="xanthan", at_least=4.0),)),
        wash(**THICK),
    ),
    "ratio exactly": (
        wash(**THICK, ratio=(Ratio(of="glycerin", to="xanthan", at_least=5.0, at_most=5.0),)),
        wash(**THICK),
    ),
    "linear at least": ruled(
        "linear",
        LinearRule(
            name="l", terms=(Term(measure="active matter"), Term(material="glycerin", times=2)), at_least=10
        ),
    ),
    "linear at most": ruled(
        "linear",
        LinearRule(
            name="l", terms=(Term(measure="nonionic"), Term(measure="anionic", times=-1)), at_most=0.0
        ),
    ),
    "linear equality": ruled(
        "linear",
        LinearRule(
            name="l",
            terms=(Term(material="glycerin"), Term(measure="active matter", times=-0.1)),
            at_least=0,
            at_most=0,
        ),
    ),
    "needs": housed("needs", Needs(material="glucoside", other="zwitter")),
    "needs with a ratio": housed(
        "needs", Needs(material="function:thickener", other="glycerin", ratio=4.0), **THICK
    ),
    "needs what is not there": housed("needs", Needs(material="glucoside", other="tag:mineral")),
    "needs, by tag and function": housed(
        "needs",
        Needs(material="tag:sulfate", other="function:humectant"),
        targets={"anionic": {"at_least": 1.0}},
    ),
    "incompatible pair": housed(
        "incompatible", Incompatible(one="anion", other="glucoside"), targets={"anionic": {"at_least": 1.0}}
    ),
    "incompatible groups": housed(
        "incompatible",
        Incompatible(one="function:thickener", other="tag:sulfate"),
        names=GUMS,
        targets={"anionic": {"at_least": 1.0}},
    ),
    "incompatible, a material on both sides": housed(
        "incompatible",
        Incompatible(one="function:thickener", other="tag:cationic-polymer"),
        names=GUMS,
        change={"cationic-gum": {"pH_max": None}},
    ),
    "incompatible with its own kind": housed(
        "incompatible",
        Incompatible(one="function:surfactant", other="function:surfactant"),
    ),
    "when, a total": housed("when", When(material="xanthan", measure="electrolyte", at_least=0.3), **THICK),
    "when, a mean": housed(
        "when",
        When(material="function:thickener", measure="mildness", at_least=80.0),
        **THICK,
        targets={"mildness": {"at_least": 50.0}, "anionic": {"at_least": 2.0}},
    ),
    "when, both ends": housed(
        "when", When(material="tag:gum", measure="material:glycerin", at_least=2.0, at_most=3.0), **THICK
    ),
    "when, a total, unless": housed(
        "when",
        When(material="function:thickener", unless="zwitter", measure="material:glycerin", at_least=2.0),
        **THICK,
    ),
    "when, a mean, unless": housed(
        "when",
        When(material="tag:sulfate", unless="glycerin", measure="mildness", at_least=80.0),
        targets={"mildness": {"at_least": 45.0}, "anionic": {"at_least": 2.0}},
    ),
    "when, a share": housed("when", When(material="glucoside", measure="share:amphoteric", at_least=25.0)),
    "use range": (wash(shelf(*WASH, change={"glucoside": {"max_use": 10.0}})), wash()),
    "zero or at least": (
        wash(shelf(*WASH, change={"xanthan": {"min_if_used": 1.5}}), **THICK),
        wash(**THICK),
    ),
    "shelf": more(
        shelf={"anion": None, "zwitter": None, "xanthan": None}, targets={"mildness": {"at_least": 45.0}}
    ),
    "stock for the batch": more(shelf={"glucoside": 100.0, "zwitter": None}, weighing=Weighing(batch_g=1000)),
    "a column of the user": more(
        shelf(*WASH, change=IODINE, measures=FEEL), targets={"feel": {"at_most": 8.0}}
    ),
    "missing data": (
        wash(
            shelf(*WASH, change={k: v for k, v in IODINE.items() if k != "glucoside"}, measures=FEEL),
            targets={"feel": {"at_most": 8.0}, "mildness": {"at_least": 45.0}},
        ),
        wash(shelf(*WASH, measures=FEEL, change=IODINE), targets={"mildness": {"at_least": 45.0}}),
    ),
}


SETTERS = ("anion", "zwitter", "glucoside", "glycerin", "acid", "xanthan", "cationic-gum")
LOW = {"at_least": 4.4, "at_most": 4.9}
PRESERVED = ("anion", "zwitter", "glucoside", "acid", "preserver", "alcohol", "glycerin")
MARGINS = tuple(system.model_copy(update={"margin": 0.3}) for system in SYSTEMS)
ACIDS = (
    SYSTEMS[0].model_copy(update={"undissociated_at_least": {"Preserver": 0.1}, "margin": 0.2}),
    SYSTEMS[1],
    SYSTEMS[2].model_copy(update={"undissociated_at_least": {"Preserver": 0.004}}),
)
MORE_ACID = (
    SYSTEMS[0].model_copy(update={"undissociated_at_least": {"Preserver": 0.2}}),
    SYSTEMS[2].model_copy(update={"undissociated_at_least": {"Preserver": 0.2}}),
)
"""Where these systems end, no dose leaves so much uncharged; half a unit of pH lower one does."""
UNLESS = When(
    material="function:surfactant", unless="function:humectant", measure="pH", at_least=4.8, at_most=5.2
)
ACID_CASES = {
    "dosed window": (wash(shelf(*SETTERS[:5]), targets={"pH": LOW}), 5.0),
    "dosed floor": (
        wash(shelf(*SETTERS[:5]), targets={"pH": {"at_least": 9.0}, "mildness": {"at_least": 70.0}}),
        None,
    ),
    "dosed, a material in its window": (
        wash(shelf(*SETTERS), targets={"pH": {"at_least": 4.4, "at_most": 5.6}}, **BOTH_GUMS),
        None,
    ),
    "dosed, a material out of its window": (
        wash(shelf(*SETTERS), targets={"pH": {"at_least": 6.0, "at_most": 7.0}}, **THICK),
        None,
    ),
    "dosed, a when on pH": (
        wash(
            shelf(*SETTERS, rules=Rules(when=(When(material="xanthan", measure="pH", at_least=5.2),))),
            targets={"pH": {"at_least": 4.5, "at_most": 5.5}},
            include=(Include(material="xanthan"),),
        ),
        None,
    ),
    "dosed, systems narrow the window": (
        wash(shelf(*PRESERVED, systems=SYSTEMS), targets={"pH": {"at_least": 4.5, "at_most": 6.5}}),
        None,
    ),
    "dosed, no system fits but one": (
        wash(shelf(*PRESERVED, systems=SYSTEMS), targets={"pH": {"at_least": 6.5, "at_most": 7.0}}),
        None,
    ),
    "bench, systems gated": (
        wash(
            shelf(*PRESERVED, systems=SYSTEMS),
            targets={"pH": {"at_least": 4.5, "at_most": 5.5, "set": "bench"}},
        ),
        None,
    ),
    "bench, half-open target": (
        wash(shelf(*PRESERVED, systems=SYSTEMS), targets={"pH": {"at_most": 5.5, "set": "bench"}}),
        None,
    ),
    "bench, materials gated": (
        wash(shelf(*SETTERS), targets={"pH": {"at_least": 4.5, "at_most": 5.5, "set": "bench"}}, **THICK),
        None,
    ),
    "bench, a when on pH": (
        wash(
            shelf(*SETTERS, rules=Rules(when=(When(material="xanthan", measure="pH", at_least=5.0),))),
            targets={"pH": {"at_least": 4.5, "at_most": 5.5, "set": "bench"}},
            **THICK,
        ),
        None,
    ),
    "no pH, every system is open": (wash(shelf(*PRESERVED, systems=SYSTEMS)), None),
    "no pH, materials keep their windows": (wash(shelf(*SETTERS), **THICK), None),
    "no pH, unknown charge counts as neutral": (
        wash(shelf(*SETTERS[:5], "riddle"), include=(Include(function="extract"),)),
        None,
    ),
    "dosed, a margin": (
        wash(shelf(*PRESERVED, systems=MARGINS), targets={"pH": {"at_least": 4.5, "at_most": 6.5}}),
        None,
    ),
    "no pH, a margin": (wash(shelf(*PRESERVED, systems=MARGINS)), None),
    "bench, a margin": (
        wash(
            shelf(*PRESERVED, systems=MARGINS),
            targets={"pH": {"at_least": 4.5, "at_most": 4.9, "set": "bench"}},
        ),
        None,
    ),
    "dosed, a least uncharged acid": (
        wash(shelf(*PRESERVED, systems=ACIDS), targets={"pH": {"at_least": 4.2, "at_most": 4.6}}),
        None,
    ),
    "no pH, a least uncharged acid": (wash(shelf(*PRESERVED, systems=ACIDS)), None),
    "no pH, a least uncharged acid that asks for a lower pH": (
        wash(shelf(*PRESERVED, systems=MORE_ACID)),
        None,
    ),
    "a pH with one end, a least uncharged acid that asks for a lower one": (
        wash(shelf(*PRESERVED, systems=MORE_ACID), targets={"pH": {"at_least": 4.15}}),
        None,
    ),
    "dosed, a target on uncharged acid": (
        wash(
            shelf(*PRESERVED, systems=SYSTEMS),
            targets={"pH": {"at_least": 4.2, "at_most": 6.5}, "undissociated:Preserver": {"at_least": 0.07}},
        ),
        None,
    ),
    "no pH, a target on uncharged acid": (
        wash(
            shelf(*PRESERVED, systems=SYSTEMS),
            targets={"undissociated:Preserver": {"at_least": 0.01, "at_most": 0.06}},
        ),
        None,
    ),
    "bench, a target on uncharged acid": (
        wash(
            shelf(*PRESERVED, systems=SYSTEMS),
            targets={
                "pH": {"at_least": 4.5, "at_most": 4.9, "set": "bench"},
                "undissociated:Preserver": {"at_least": 0.07},
            },
        ),
        None,
    ),
    "no pH, a when on pH unless": (
        wash(shelf(*SETTERS, rules=Rules(when=(UNLESS,))), **THICK),
        None,
    ),
    "no pH, a when on pH for water": (
        wash(shelf(*SETTERS, rules=Rules(when=(When(material="water", measure="pH", at_most=8.0),)))),
        None,
    ),
    "bench, a when on pH unless": (
        wash(
            shelf(*SETTERS, rules=Rules(when=(UNLESS,))),
            targets={"pH": {"at_least": 4.0, "at_most": 5.5, "set": "bench"}},
            **THICK,
        ),
        None,
    ),
    "no pH, a when on pH still holds": (
        wash(
            shelf(*SETTERS, rules=Rules(when=(When(material="xanthan", measure="pH", at_least=5.0),))),
            **THICK,
        ),
        None,
    ),
    "unknown charge stays out of a dosed pH": (
        wash(shelf(*SETTERS[:5], "riddle"), targets={"pH": LOW}, include=(Include(function="extract"),)),
        None,
    ),
    "unknown charge is let in to a bench pH": (
        wash(
            shelf(*SETTERS[:5], "riddle"),
            targets={"pH": {**LOW, "set": "bench"}},
            include=(Include(function="extract"),),
        ),
        None,
    ),
}
