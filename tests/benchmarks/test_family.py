"""Four, six and eight washes on one shelf, as a multiple of their separate designs in one run; opt-in.

The search and all that is told of it, as the command does it: also the family with one material more or less.
"""

from __future__ import annotations

import pytest

from tests.benchmarks.children import ROOT, done

pytestmark = pytest.mark.benchmark
WASHES = (
    "nettle-gel-oily-skin",
    "linden-cream-dry-skin",
    "oat-conditioning-wash",
    "sea-buckthorn-emulsion-wash",
)
MORE = (*WASHES, "spruce-shampoo", "first-bath-baby-mild")
STARTERS = (("mature", "cream"), ("normal", "gel"))
"""With two starter briefs there are eight."""
GIBIBYTE = 2**30
LIMIT = 600.0


@pytest.mark.parametrize(
    ("goal", "washes", "starters", "bar"),
    [
        ("materials", WASHES, (), 1.0),
        ("cash", WASHES, (), 2.0),
        ("materials", MORE, (), 2.5),
        ("materials", MORE, STARTERS, 1.5),
    ],
)
def test_a_family_against_the_separate_designs(goal, washes, starters, bar, tmp_path, capsys):
    """Processor time of whole processes; a bar is what is wanted, docs/explanation/speed.md says what is reached."""
    briefs = [ROOT / "problems" / name / "brief.toml" for name in washes]
    for skin, texture in starters:
        briefs.append(tmp_path / f"{skin}-{texture}.toml")
        done(
            (
                "python",
                "-m",
                "optiform",
                "start",
                "--for",
                skin,
                "--texture",
                texture,
                "--out",
                str(briefs[-1]),
            )
        )
    products = "".join(
        f'[[product]]\nbrief = "{brief}"\nbatch = "{place + 1}kg"\nwithin = 0.05\n'
        for place, brief in enumerate(briefs)
    )
    plan = tmp_path / "plan.toml"
    plan.write_text(f'title = "Washes"\nminimise = "{goal}"\n{products}')
    apart = sum(done(("python", "-m", "optiform", "design", str(brief))).processor for brief in briefs)
    together = done(("python", "-m", "optiform", "family", str(plan), "--format", "json"), LIMIT)
    ratio = together.processor / apart
    with capsys.disabled():
        print(
            f"\n{len(briefs)} washes, {goal}: separate designs {apart:.1f} s, family {together.processor:.1f} s, "
            f"ratio {ratio:.2f}, {together.memory / 2**20:.0f} MiB"
        )
    assert ratio <= bar
    assert together.memory < GIBIBYTE
