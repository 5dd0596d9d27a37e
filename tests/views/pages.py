"""Pages to look at: a ranked design, a typed formula that breaks things, a conflict; and a reader of HTML."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.model import Answer
from optiform.answers.rework import reformulate
from optiform.brief.models import Baseline, Brief
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.sheets import Make, Supplier, make_sheet, shopping, unit_from
from optiform.views.first.card import card_blocks
from optiform.views.render import page
from optiform.views.results.sheet import plan_blocks, sheet_blocks
from optiform.views.screens import answer_blocks
from tests import asked

WASH = (
    ("water", 70.25), ("glycerin", 4.0), ("xanthan-gum", 0.8), ("sodium-benzoate", 0.5), ("potassium-sorbate", 0.3),
    ("decyl-glucoside", 8.2), ("cocamidopropyl-betaine-30", 12.0), ("nettle-extract", 2.6), ("lavender-oil", 0.15),
    ("polyglyceryl-4-caprate", 0.6), ("citric-acid", 0.6),
)  # fmt: skip
VOID = ("meta", "br", "hr", "link", "col")


@cache
def brief() -> Brief:
    """Return a brief that can be met on the starter library."""
    return Brief(
        title="Nettle wash of the quay",
        library=load_library(),
        targets={
            "active matter": {"at_least": 9.0, "at_most": 11.0},
            "mildness": {"at_least": 65.0},
            "pH": {"at_least": 4.8, "at_most": 5.2},
        },
        include=[{"material": "nettle-extract", "at_least": 2.0, "at_most": 4.0}],
        ranked={"how_many": 3},
    )


@cache
def ranked() -> Answer:
    """Return a small proven ranking."""
    return design(brief())


@cache
def broken() -> Answer:
    """Return a typed formula that breaks the brief, the library and the law."""
    lines = (
        ("water", 76.8),
        ("sodium-laureth-sulfate-70", 16.0),
        ("cocamidopropyl-betaine-30", 4.0),
        ("sodium-benzoate", 3.0),
        ("potassium-sorbate", 0.2),
    )
    formula = TypedFormula(name="too harsh", lines=lines, total=100.0)
    return evaluate(formula, brief().library, brief())


@cache
def collided() -> Answer:
    """Return a brief that cannot be met."""
    return asked.designed("too-many-wishes")


@cache
def reformed() -> Answer:
    """Return a formula of today made cheaper."""
    wanted = brief()
    fields = {name: getattr(wanted, name) for name in wanted.model_fields_set}
    today = Baseline(formula="today.csv", lines=WASH, keep=("nettle-extract", "lavender-oil"), at_most_new=1)
    return reformulate(Brief(**{**fields, "title": "Nettle wash, made cheaper", "baseline": today}))


ALL = {"ranked": ranked, "broken": broken, "collided": collided, "reformed": reformed}


def bench() -> dict[str, str]:
    """Return the page of a whole sheet, and of a shopping list by itself."""
    formula = TypedFormula(name="nettle wash", lines=WASH, total=100.0)
    library = brief().library
    unit = unit_from({"unit": {"contents_ml": 200, "labour_h": 3, "labour_rate": 18, "shelf_price": 14.0,
                               "batches_g": [10000.0, 50000.0]}})  # fmt: skip
    whole = make_sheet(formula, library, 5000.0, brief=brief(), unit=unit)
    plan = shopping(
        [Make(title="nettle wash", lines=WASH, batch_g=5000.0)],
        library,
        suppliers=[Supplier(name="harbour chemicals", minimum_order=30.0, delivery=6.5)],
    ).model_copy(update={"title": "Spring market"})
    card = make_sheet(formula, library, 1000.0, brief=brief(), parts=("card",)).card
    assert card is not None
    return {
        "card": page.render(card_blocks(card), "Card"),
        "sheet": page.render(sheet_blocks(whole), whole.title),
        "plan": page.render(plan_blocks(plan, whole.cautions), plan.title),
    }


def answer_page(answer: Answer, *, everything: bool = False) -> str:
    """Return the page of an answer."""
    blocks = answer_blocks(answer, everything=everything, drawn=True)
    return page.render(blocks, answer.title or answer.question)


@dataclass
class Element:
    """One element of a page."""

    tag: str
    attributes: dict[str, str | None]
    children: list[Element | str] = field(default_factory=list)

    def find(self, *tags: str) -> list[Element]:
        """Return all elements below with one of these tags, in order."""
        found = []
        for child in self.children:
            if isinstance(child, Element):
                found += [child] if child.tag in tags else []
                found += child.find(*tags)
        return found

    @property
    def text(self) -> str:
        """Return the words of an element."""
        return " ".join("".join(c if isinstance(c, str) else c.text + " " for c in self.children).split())


class Reader(HTMLParser):
    """Reads a page into elements, and fails on one that is not closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open = [Element("page", {})]

    def handle_starttag(self, tag, attrs):
        element = Element(tag, dict(attrs))
        assert len(attrs) == len(element.attributes), f"an attribute twice on <{tag}>"
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag, attrs):
        self.open[-1].children.append(Element(tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop().tag == tag

    def handle_data(self, data):
        self.open[-1].children.append(data)


def read(content: str) -> Element:
    """Return a page as elements."""
    reader = Reader()
    reader.feed(content)
    reader.close()
    assert len(reader.open) == 1, f"never closed: {reader.open[-1].tag}"
    return reader.open[0]


def tables(page: Element) -> dict[str, list[dict[str, str]]]:
    """Return the tables of a page by caption: per row the cells by column title, the total row apart."""
    found: dict[str, list[dict[str, str]]] = {}
    for table in page.find("table"):
        (caption,) = table.find("caption")
        (head,), (body,) = table.find("thead"), table.find("tbody")
        titles = [cell.text for cell in head.find("th", "td")]
        assert caption.text not in found, f"two tables are called {caption.text}"
        found[caption.text] = [
            dict(zip(titles, (cell.text for cell in row.find("th", "td")), strict=True))
            for row in body.find("tr")
            if row.attributes.get("class") != "under"
        ]
    return found
