"""What a person does in a browser: sign in through the form, work by keyboard, and what must hold on every page."""

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

DESK = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}
# WCAG 2.2 at levels A and AA, as axe-core names its rules.
WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
MOST_STOPS = 400


def sign_in(page: Page, address: str, name: str, password: str) -> None:
    """Sign in through the real form, by keyboard, at the live server's `address`."""
    page.goto(f"{address}/sign-in")
    write(page, page.get_by_label("Username"), name)
    write(page, page.get_by_label("Password"), password)
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def reach(page: Page, target: Locator) -> None:
    """Press Tab until `target` has the focus, as somebody without a mouse does; fails where it cannot be reached."""
    expect(target).to_have_count(1)
    for _ in range(MOST_STOPS):
        if target.evaluate("element => element === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{target} cannot be reached with the Tab key")


def write(page: Page, target: Locator, text: str) -> None:
    """Reach a field by keyboard and replace what stands in it."""
    reach(page, target)
    page.keyboard.press("Control+A")
    page.keyboard.press("Delete")
    page.keyboard.type(text)


def press(page: Page, target: Locator) -> None:
    """Reach a button or a link by keyboard and press it."""
    reach(page, target)
    page.keyboard.press("Enter")


def tick(page: Page, target: Locator) -> None:
    """Reach a tick box or radio button by keyboard and choose it with the space bar."""
    reach(page, target)
    page.keyboard.press("Space")


def axe_clean(page: Page) -> None:
    """No violation of WCAG 2.2 AA that axe-core can find on the page as it stands."""
    found: Any = Axe().run(page, options=WCAG)
    assert found.violations_count == 0, found.generate_report()


def no_sideways_scroll(page: Page) -> None:
    """Nothing is wider than the screen, or a phone would scroll sideways."""
    widths = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    wide = page.evaluate(
        """() => [...document.querySelectorAll('main *')]
            .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
            .slice(0, 5).map(e => e.outerHTML.slice(0, 120))"""
    )
    assert widths[0] <= widths[1], f"{widths[0]} px wide on a screen of {widths[1]} px: {wide}"


def targets_are_large(page: Page, least_px: int = 44) -> None:
    """Every button, field and link that stands alone can be hit with a gloved thumb."""
    small = page.evaluate(
        """least => [...document.querySelectorAll('button, .action, input:not([type=hidden]), select, nav a')]
            .filter(e => e.offsetParent !== null && !e.closest('.leaflet-container'))
            .map(e => [e.type === 'checkbox' || e.type === 'radio' ? e.closest('label') || e.parentElement : e, e])
            .filter(([box]) => box.getBoundingClientRect().height < least - 0.5)
            .map(([, e]) => e.outerHTML.slice(0, 120))""",
        least_px,
    )
    assert small == []


def holds_on_every_page(page: Page) -> None:
    """All that must hold on any page at any size."""
    axe_clean(page)
    no_sideways_scroll(page)
    targets_are_large(page)
