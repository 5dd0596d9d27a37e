"""Turns a drawing into SVG for a page: small, with a text alternative and unique ids."""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from optiform.views.words.blocks import fit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SVG, LINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}href"
UNNEEDED = (f"{SVG}metadata", f"{SVG}style")
SALT = "optiform"
FAMILY = "system-ui, 'Segoe UI', Roboto, 'Liberation Sans', 'DejaVu Sans', sans-serif"
PLACES = frozenset({"d", "x", "y", "width", "height", "transform"})
LONG = re.compile(r"(\d\.\d{2})\d+")
"""Places finer than a hundredth of a pixel."""


def inline(figure: Figure, name: str, title: str, description: str) -> str:
    """Return a figure as an `<svg>` element for a page, in the reader's fonts, the same bytes on every run.

    `name` is unique on the page and begins every id of the drawing; title and description are its text alternative.
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    written = BytesIO()
    FigureCanvasSVG(figure).print_svg(  # type: ignore[no-untyped-call]
        written, metadata={"Date": None, "Creator": None, "Format": None, "Type": None}
    )
    root = ElementTree.fromstring(written.getvalue())
    for parent in (root, *root.findall(f"{SVG}defs")):
        for child in [child for child in parent if child.tag in UNNEEDED]:
            parent.remove(child)
    parts = [
        _text("title", title, name),
        _text("desc", description, name),
        *(_own(child, name) for child in root),
    ]
    drawing = ElementTree.Element("svg", {
        "class": "picture",
        "viewBox": root.get("viewBox", ""),
        "role": "img",
        "aria-labelledby": f"{name}-title",
        "aria-describedby": f"{name}-desc",
    })  # fmt: skip
    drawing.extend(parts)
    written_out = ElementTree.tostring(drawing, encoding="unicode")
    readable = re.sub(r"'DejaVu Sans'[^;\"]*", FAMILY, written_out)
    return re.sub(r"\s*\n\s*", "\n", readable)


def documents(drawing: str) -> tuple[str, ...]:
    """Return the SVG elements of a page's drawing, each as a document that needs nothing else."""
    parts = drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ').split("</svg>")
    return tuple(f"{part.strip()}</svg>" for part in parts if part.strip())


def _text(kind: str, words: str, name: str) -> ElementTree.Element:
    """Return a part of the text alternative."""
    element = ElementTree.Element(kind, {"id": f"{name}-{kind}"})
    element.text = fit(words)
    return element


def _own(element: ElementTree.Element, name: str) -> ElementTree.Element:
    """Prefix the ids in use with the picture's name, and drop the others."""
    for node in element.iter():
        node.tag = node.tag.removeprefix(SVG)
        for place in PLACES.intersection(node.keys()):
            node.set(place, LONG.sub(r"\1", node.attrib[place]))
        identity = node.get("id")
        if identity is not None:
            if node.tag == "g":
                del node.attrib["id"]
            else:
                node.set("id", f"{name}-{identity}")
        if LINK in node.attrib:
            node.set("href", f"#{name}-{node.attrib.pop(LINK).removeprefix('#')}")
        clip = node.get("clip-path")
        if clip is not None:
            node.set("clip-path", clip.replace("url(#", f"url(#{name}-"))
    return element
