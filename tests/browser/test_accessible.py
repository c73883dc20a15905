"""WCAG 2.2 AA by axe-core, on every page at phone and desktop width, in light and dark.

axe-core is Deque's open rule engine (MPL-2.0); a package of the development tools brings it along.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

from tests.browser.conftest import FILES, Opener

_AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js").read_text("utf-8")
_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", FILES)
def test_axe_finds_nothing(opened: Opener, name: str, width: int) -> None:
    page = opened(name, width=width)
    if name == "plan.html":
        page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    page.evaluate(_AXE)
    found = page.evaluate("(tags) => axe.run({ runOnly: tags })", _TAGS)
    assert _said(found["violations"]) == []
    assert len(found["passes"]) > 15
    page.emulate_media(color_scheme="dark")  # of all rules, only contrast knows about the scheme
    found = page.evaluate("axe.run({ runOnly: { type: 'rule', values: ['color-contrast'] } })")
    assert _said(found["violations"]) == []
    assert len(found["passes"]) == 1


def _said(violations: list[dict[str, Any]]) -> list[tuple[str, list[str]]]:
    return [(each["id"], [node["html"][:200] for node in each["nodes"][:3]]) for each in violations]


def test_axe_would_find_a_picture_without_words(opened: Opener) -> None:
    page = opened("course.html")
    page.evaluate("document.querySelector('.profile svg').removeAttribute('aria-labelledby')")
    page.evaluate(_AXE)
    found = page.evaluate("(tags) => axe.run({ runOnly: tags })", _TAGS)
    assert "svg-img-alt" in {violation["id"] for violation in found["violations"]}


def test_the_dialog_for_the_coach_is_accessible_too(opened: Opener) -> None:
    page = opened("plan.html")
    page.locator("#next").get_by_role("button", name="Tell my coach").click()
    page.get_by_label("Something hurt").check()
    page.evaluate(_AXE)
    found = page.evaluate("(tags) => axe.run({ runOnly: tags })", _TAGS)
    assert [violation["id"] for violation in found["violations"]] == []
