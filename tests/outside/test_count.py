"""How many checks are truly independent, and that the page says so."""

from __future__ import annotations

from tests.outside.count import PAGE, found, table


def test_forty_independent_checks_over_twelve_laws_beyond_gas() -> None:
    own = [check for check in found() if check.kind == "independent" and not check.law.startswith("gas,")]
    assert len(own) >= 40
    assert len({check.law for check in own}) >= 12


def test_the_page_lists_every_check_with_its_kind() -> None:
    assert PAGE.read_text(encoding="utf-8").endswith(table(found())), "run `python -m tests.outside.count`"
