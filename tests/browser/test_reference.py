"""Long reference is folded on a phone, opens where a link leads into it, and is whole on paper."""

from __future__ import annotations

import pytest

from tests.browser.conftest import Visit, until

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 664}
SCREENS = "document.documentElement.scrollHeight / innerHeight"
CLOSED = "document.querySelectorAll('.sb-reference:not([open])').length"


@pytest.mark.parametrize("name", ["materials", "method"])
def test_a_reference_page_is_at_most_8_screens_of_a_phone_until_something_is_opened(
    visit: Visit, address: str, name: str
) -> None:
    visit.page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    visit.page.goto(f"{address}{name}.html")
    assert visit.page.evaluate(SCREENS) <= 8
    visit.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert visit.page.evaluate(SCREENS) > 20, "the tables are gone"


def test_a_link_into_a_fold_opens_it_alone(visit: Visit, address: str) -> None:
    visit.page.goto(f"{address}materials.html")
    every = visit.page.evaluate(CLOSED)
    visit.page.evaluate("location.hash = 'material-petg'")
    until(visit.page, "document.getElementById('material-petg').closest('details').open")
    assert visit.page.evaluate(CLOSED) == every - 1
    visit.page.evaluate("location.hash = 'no-such-place'")
    assert visit.page.evaluate(CLOSED) == every - 1


def test_on_paper_every_reference_is_open(visit: Visit, address: str) -> None:
    visit.page.goto(f"{address}materials.html")
    visit.page.emulate_media(media="print")
    hidden = "[...document.querySelectorAll('.sb-reference table')].filter(one => !one.offsetHeight).length"
    assert visit.page.evaluate(hidden) == 0
