"""The look holds together: one palette, a file for every mark, nothing from outside."""

import re
from dataclasses import asdict
from pathlib import Path

import pytest
from plotly.offline import get_plotlyjs_version

from oiltrend.figures.theme import DARK, LIGHT
from tests.house import ROOT

ASSETS = ROOT / "assets"
STYLES = {path.name: path.read_text(encoding="utf-8") for path in sorted(ASSETS.glob("*.css"))}
OWN = [*ASSETS.glob("*.css"), *ASSETS.glob("*.js"), *ASSETS.glob("icons/*.svg")]


def tokens() -> dict[str, tuple[str, str]]:
    pairs = re.findall(r"--([\w-]+): light-dark\((#\w{6}), (#\w{6})\)", STYLES["10-tokens.css"])
    return {name: (light, dark) for name, light, dark in pairs}


@pytest.mark.parametrize(("theme", "token"), [
    ("sheet", "sheet"), ("ink", "ink"), ("soft", "soft"), ("line", "accent"), ("alert", "alert"),
    ("alarm", "alarm")])
def test_charts_and_pages_share_one_palette(theme: str, token: str) -> None:
    assert tokens()[token] == (asdict(LIGHT)[theme], asdict(DARK)[theme])


def test_every_mark_that_a_style_names_is_there_and_every_file_is_used() -> None:
    named = set(re.findall(r'url\("icons/([\w-]+)\.svg"\)', "".join(STYLES.values())))
    there = {path.stem for path in ASSETS.glob("icons/*.svg")}
    assert named == there


def test_every_mark_that_a_page_uses_has_a_style() -> None:
    styled = set(re.findall(r"\.icon-([\w-]+) \{", STYLES["20-base.css"]))
    code = "".join(path.read_text(encoding="utf-8")
                   for path in (ROOT / "oiltrend" / "dashboard").rglob("*.py"))
    used = set(re.findall(r'(?:icon\(|shape=|ICON = |": |None: )"([a-z]+(?:-[a-z]+)*)"', code))
    assert {"stop-sign", "doubt", "awaited", "level-alarm", "data-little", "nav-watch",
            "rising"} <= used
    assert {name for name in re.findall(r'(?:icon\(|shape=|ICON = )"([a-z-]+)"', code)} <= styled


def test_levels_differ_by_shape_not_only_by_colour() -> None:
    shapes = [(ASSETS / "icons" / f"level-{name}.svg").read_text(encoding="utf-8")
              for name in ("no-alarm", "alert", "alarm", "none")]
    assert len(set(shapes)) == 4


@pytest.mark.parametrize("path", OWN, ids=lambda path: path.name)
def test_nothing_comes_from_outside(path: Path) -> None:
    text = path.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?:|//[a-z]|@import|<script|eval\(", text)


def test_the_chart_script_is_the_one_that_plotly_carries_and_its_licence_lies_beside_it() -> None:
    script = (ASSETS / "vendor" / "plotly-cartesian.min.js").read_text(encoding="utf-8")
    found = re.search(r"plotly\.js \(cartesian - minified\) v([\d.]+)", script[:400])
    assert found is not None
    assert found[1] == get_plotlyjs_version()
    licence = (ASSETS / "vendor" / "plotly-cartesian.LICENSE.txt").read_text(encoding="utf-8")
    assert "MIT" in licence


def test_no_colour_of_a_traffic_light_marks_a_level() -> None:
    for light, dark in (tokens()[name] for name in ("no-alarm", "alert", "alarm")):
        for colour in (light, dark):
            red, green, blue = (int(colour[k:k + 2], 16) for k in (1, 3, 5))
            assert not (green > 1.3 * red and green > 1.3 * blue)
            assert not (red > 2.5 * green and red > 2.5 * blue)
