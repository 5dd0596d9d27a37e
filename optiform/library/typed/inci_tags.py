"""Which house tags an INCI name tells by itself, so that house rules find a substance that is new to a library.

Names follow the conventions of the INCI nomenclature (`-eth` for an ethoxylate, `Polyquaternium-`, `-trimonium` for
quaternary ammonium; common practice, from memory). A name that tells nothing gets no tag.
"""

from __future__ import annotations

import re

FATTY = r"(lauryl|myristyl|cetyl|stearyl|cetearyl|oleyl|coco|cocoyl|decyl|c\d+(-\d+)? ?\w*)"
SOAPS = (
    r"(cocoate|laurate|myristate|palmate|palmitate|stearate|oleate|olivate|tallowate|babassuate|castorate)"
)
RULES: tuple[tuple[str, str], ...] = (
    (r"\w+eth(-\d+)? sulfate$|pareth(-\d+)? sulfate$", "sulfate ethoxylated peg anionic-surfactant"),
    (rf"{FATTY}[ -]sulfate$", "sulfate anionic-surfactant"),
    (r"\w+eth(-\d+)? (sulfosuccinate|carboxylate|phosphate)$", "ethoxylated peg anionic-surfactant"),
    (r"sulfosuccinate", "sulfosuccinate anionic-surfactant"),
    (r"isethionate", "isethionate anionic-surfactant"),
    (r"(olefin|benzene|alkane|xylene) ?sulfonate|sulfoacetate|taurate$|oyl lactylate", "anionic-surfactant"),
    (r"oyl .*(glutamate|glycinate|sarcosinate|alaninate|threoninate|aspartate|amino acids)$",
     "amino-acid anionic-surfactant"),
    (rf"^(sodium|potassium) {SOAPS}$", "soap anionic-surfactant"),
    (r"(propyl|coco-|lauryl|cetyl|oleyl|oyl) ?(betaine|hydroxysultaine|sultaine)$", "betaine"),
    (r"ampho(di)?(acetate|propionate)$", "amphoacetate"),
    (r"amine oxide$", "amine-oxide"),
    (r"(mide|mide) (mea|dea|mipa)$", "alkanolamide"),
    (r"^(decyl|lauryl|coco|caprylyl/capryl|hexyl|octyl|myristyl|babassu|c\d+(-\d+)? alkyl)[ -]glucoside$", "glucoside"),
    (r"^peg-\d|^\w+eth-\d+$", "ethoxylated peg"),
    (r"^polysorbate \d", "ethoxylated peg polysorbate"),
    (r"^polyglyceryl-\d+", "polyglyceryl"),
    (r"^polyquaternium-|hydroxypropyltrimonium", "cationic-polymer"),
    (r"^(?!.*hydroxypropyltrimonium).*(trimonium|dimonium|alkonium) (chloride|methosulfate|bromide)$",
     "cationic-surfactant"),
    (r"\bgum$|\bgum\b", "gum"),
    (r"^(xanthan|cellulose|gellan) gum$|carrageenan|^(sodium )?(alginate|algin)$", "anionic-gum"),
    (r"^carbomer$|^acrylates copolymer$|acrylate crosspolymer", "anionic-polymer synthetic-polymer"),
    (r"dimethicon|siloxane|silicone|methicone$", "silicone"),
    (r"paraben$", "paraben"),
    (r"isothiazolinone", "isothiazolinone"),
    (r"dmdm hydantoin|imidazolidinyl urea|diazolidinyl urea|quaternium-15$|bromo-2-nitropropane|hydroxymethylglycinate",
     "formaldehyde-releaser"),
    (r"^(mono|di|tri)?ethanolamine$|^diisopropanolamine$", "amine-source"),
    (r"bromo-2-nitropropane|^sodium nitrite$", "nitrosating"),
    (r"^hydrolyzed .*(protein|keratin|collagen|oats|silk|elastin)$", "protein"),
    (r"keratin|collagen|^honey$|lanolin|^mel$|tallow|silk|elastin|^cera alba$", "animal"),
    (r"wheat|triticum|hordeum|secale", "gluten"),
    (r"avena sativa (kernel|bran)|hydrolyzed oats", "gluten?"),
    (r"prunus amygdalus|arachis hypogaea|juglans|corylus", "nut"),
    (r"elaeis guineensis|\bpalm\w*\b(?! amido)", "palm"),
    (r"cocos nucifera", "coconut"),
    (r"^\w+ \w+.* (extract|(flower|leaf|fruit) water|juice( powder)?|kernel flour|seed powder)$", "botanical"),
    (r"^\w+ \w+.* (seed|kernel|fruit|germ) (oil|butter)$", "plant-oil botanical"),
    (r"^(?!hydrogenated|mineral|peg-)\w+ \w+.* (oil|butter)$", "botanical"),
    (r"^parfum$|^fragrance$", "fragrance"),
    (r" edta$|glutamate diacetate$", "chelating magnesium-binding"),
    (r"phytate$|^sodium gluconate$", "chelating"),
    (r"^ci \d{5}", "colourant"),
    (r"^ci 7749[129]", "mineral iron-oxide"),
    (r"^mica$", "mica mineral colourant"),
    (r"benzoate$|^benzoic acid$", "benzoate"),
)  # fmt: skip


def tags_of(inci: str) -> tuple[str, ...]:
    """Return the house tags that an INCI name tells by itself; a trailing `?` means "may be"."""
    name = " ".join(inci.casefold().split())
    found = (tag for pattern, tags in RULES if re.search(pattern, name) for tag in tags.split())
    return tuple(dict.fromkeys(found))
