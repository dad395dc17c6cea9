"""What is wrong with the looks of a page: axe-core, targets, text cut off or one over the other, sideways scrolling.

Contrast is what takes axe-core longest, and pages share their stylesheet: a look that a piece of text has is asked
about until a page with it was in order; what floats over something else is asked about on every page.
"""

from typing import Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {"color-contrast": {"enabled": False}},
    "resultTypes": ["violations"],
    "preload": False,  # no rule of these tags reads a style sheet or plays a film
}
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}, "resultTypes": ["violations"], "preload": False}
AXE = Axe().axe_script
PHONE, DESK = (360, 320), (1440, 768)
SMALL = """() => [...document.querySelectorAll(
    'main button, main input:not([type=hidden]), main select, main summary, a.button')]
  .filter(e => e.offsetParent && !e.closest('p.foot-acts') && e.tabIndex >= 0)
  .map(e => [e.closest('label') || e, e]).map(([box, e]) => [box.getBoundingClientRect(), e])
  .filter(([r, e]) => r.height < 43.5 && e.type !== 'radio' && e.type !== 'checkbox' && e.type !== 'file')
  .map(([r, e]) => e.outerHTML.slice(0, 90) + ' ' + r.height)"""
# WCAG 1.4.12. A sheet that script adopts is not stopped by the policy, as an inline one would be.
SPACE_TEXT = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important }
    p { margin-block-end: 2em !important }`);
  document.adoptedStyleSheets = [sheet];
}"""
# What is cut off, and pieces of text that lie one over the other.
HIDDEN_TEXT = """() => {
  const apart = '.unseen, .skip, .enter, svg, #said, table.book thead, select, input, textarea';
  const shown = (e) => e.checkVisibility() && !e.closest(apart);
  const faults = [...document.querySelectorAll('#page *')]
    .filter((e) => shown(e) && e.scrollWidth > e.clientWidth + 1
      && (e.tagName === 'BUTTON' || ['hidden', 'clip'].includes(getComputedStyle(e).overflowX)))
    .map((e) => 'cut off: ' + e.outerHTML.slice(0, 90));
  const walk = document.createTreeWalker(document.getElementById('page'), NodeFilter.SHOW_TEXT);
  const pieces = [];
  while (walk.nextNode()) {
    const text = walk.currentNode;
    if (!text.data.trim() || !shown(text.parentElement)) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1) pieces.push([box, text]);
  }
  pieces.forEach(([a, one], n) => pieces.slice(n + 1).forEach(([b, other]) => {
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (one !== other && wide > 2 && high > 4)
      faults.push(`one over the other: ${one.data.trim().slice(0, 40)} / ${other.data.trim().slice(0, 40)}`);
  }));
  return [...new Set(faults)].slice(0, 5);
}"""
# Keep the pieces of text whose look is not among those known, and return their looks: colour, size and weight, and all
# that lies behind down to the first thing that covers. Text for ears alone has none.
NEW_LOOKS = """known => {
  const before = new Set(known), looks = new Map();
  const says = (e) => e.matches('input, textarea, select, button')
    || [...e.childNodes].some((one) => one.nodeType === Node.TEXT_NODE && one.data.trim());
  const look = (e) => {
    const own = getComputedStyle(e), parts = [own.color, own.fontSize, own.fontWeight, own.textShadow];
    if (e.closest('[disabled], [aria-disabled=true]')) parts.push('off');
    for (let up = e, covered = false; up; up = up.parentElement) {
      const style = getComputedStyle(up);
      if (style.clipPath !== 'none') return '';  // for ears alone
      if (style.opacity !== '1') parts.push(style.opacity);
      if (covered) continue;
      if (style.backgroundColor !== 'rgba(0, 0, 0, 0)') parts.push(style.backgroundColor);
      if (style.backgroundImage !== 'none') parts.push(style.backgroundImage);
      covered = style.backgroundImage === 'none' && style.backgroundColor.startsWith('rgb(');
      if (!covered && ['absolute', 'fixed', 'sticky'].includes(style.position)) parts.push('floats ' + looks.size);
    }
    return parts.join('|');
  };
  for (const e of document.body.querySelectorAll('*'))
    if (says(e) && e.checkVisibility()) {
      const one = look(e);
      if (one && !before.has(one)) looks.set(one, e);
    }
  window.looks = [...looks.values()];
  return [...looks.keys()];
}"""
_asked: set[str] = set()


def violations(page: Page) -> list[str]:
    """Return what axe-core finds: contrast where a piece of text has a look that it was not asked about before."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate("rules => axe.run(rules)", RULES)["violations"]
    new: list[str] = page.evaluate(NEW_LOOKS, sorted(_asked))
    if new:
        pale = page.evaluate("rules => axe.run({ include: window.looks }, rules)", CONTRAST)["violations"]
        found += pale
        _asked.update(one for one in new if "floats" not in one and not pale)
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]


def faults(page: Page, widths: tuple[int, int]) -> list[str]:
    """Return what is wrong with the page at the first width, and with its layout at both and with text spaced out."""
    found = violations(page) + (page.evaluate(SMALL) if widths[0] == 360 else [])
    for width in widths:
        page.set_viewport_size({"width": width, "height": 800})
        found += [f"{fault} at {width}" for fault in layout(page, width)]
    page.evaluate(SPACE_TEXT)  # the last width is the narrow one: 1280 px at a zoom of 400 % leave 320
    found += [f"{fault} at {widths[1]}, text spaced out" for fault in layout(page, widths[1])]
    page.evaluate("document.adoptedStyleSheets = []")
    page.set_viewport_size({"width": widths[0], "height": 800})
    return found


def faults_everywhere(page: Page) -> list[str]:
    """Return what is wrong with the page on a phone in the light and at a desk in the dark, loaded once for both."""
    found = []
    looks: tuple[tuple[tuple[int, int], Literal["light", "dark"]], ...] = ((PHONE, "light"), (DESK, "dark"))
    for widths, scheme in looks:
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": widths[0], "height": 800})
        found += [f"{fault} ({scheme}, {widths[0]})" for fault in faults(page, widths)]
    return found


def layout(page: Page, width: int) -> list[str]:
    """Return what is cut off, lies over something else, or makes the page scroll sideways at this width."""
    sideways = page.evaluate("document.documentElement.scrollWidth") > width
    return [*page.evaluate(HIDDEN_TEXT), *(["scrolls sideways"] if sideways else [])]
