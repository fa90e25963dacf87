"""The printed guides: each role's on one sheet of paper."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser

from trainer.console import guide_page

#: A page of a PDF as Chromium writes it.
PAGE = re.compile(rb"/Type\s*/Page\b(?!s)")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_guide_prints_on_one_sheet(browser: Browser, paper: str) -> None:
    page = browser.new_page()
    for role in guide_page.guides():
        page.set_content(guide_page.html())
        others = f"for (const one of document.querySelectorAll('article')) if (one.id !== '{role}') one.remove()"
        page.evaluate(f"() => {{ {others} }}")
        assert len(PAGE.findall(page.pdf(format=paper))) == 1, role
    page.close()
