"""In another language the same numbers stand at the same places, with its decimal mark."""

from __future__ import annotations

import pytest

from tests.numbers import expected_mold
from tests.numbers.compared import differences
from tests.numbers.conftest import Site
from tests.numbers.test_pages import SLUGS, record


@pytest.mark.parametrize("slug", SLUGS)
def test_a_german_mold_page_tells_the_same_numbers(german: Site, slug: str) -> None:
    wanted = expected_mold.mold_page(record(german, slug), german.at)
    assert differences(german.page(f"molds/{slug}.html"), wanted, "de") == []
