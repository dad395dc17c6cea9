"""What is wrong with the looks of a page: axe-core, targets, text cut off or one over the other, sideways scrolling.

axe-core takes longest, and pages share their stylesheet and their parts. A look that a piece of text has, and the
markup of a part (the head, a field, a row of a table or list), whatever words stand in it, are asked about until a page
with them was in order; of what floats the look of what lies beneath is part of its own; of a desk it is asked what a
phone does not show.
"""

from typing import Any, Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

OF_LOOKS = ["color-contrast", "link-in-text-block"]
ASKED = {"resultTypes": ["violations"], "preload": False}  # no rule of these reads a style sheet or plays a film
RULES = {
    **ASKED,
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {rule: {"enabled": False} for rule in OF_LOOKS},
}
LOOK_RULES = {**ASKED, "runOnly": {"type": "rule", "values": OF_LOOKS}}
AXE = Axe().axe_script
PHONE, DESK = (360, 320), (1440, 768)
SMALL = """() => [...document.querySelectorAll(
    'main button, main input:not([type=hidden]), main select, main summary, a.button')]
  .filter(e => e.offsetParent && !e.closest('p.foot-acts') && e.tabIndex >= 0)
  .map(e => [e.closest('label') || e, e]).map(([box, e]) => [box.getBoundingClientRect(), e])
  .filter(([r, e]) => r.height < 43.5 && e.type !== 'radio' && e.type !== 'checkbox' && e.type !== 'file')
  .map(([r, e]) => e.outerHTML.slice(0, 90) + ' ' + r.height)"""
# WCAG 1.4.12.
SPACED = """* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important }
  p { margin-block-end: 2em !important }"""
# What is cut off, what makes the page scroll sideways, targets that a finger cannot part (WCAG 2.5.8), and pieces of
# text that lie one over the other. A sheet that script adopts is not stopped by the policy, as an inline one would be.
LAYOUT = """([width, css]) => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(css);
  document.adoptedStyleSheets = css ? [sheet] : [];
  const apart = '.unseen, .skip, .enter, svg, #said, table.book thead, select, input, textarea';
  const shown = (e) => e.checkVisibility() && !e.closest(apart);
  const faults = [...document.querySelectorAll('#page *')]
    .filter((e) => e.scrollWidth > e.clientWidth + 1
      && (e.tagName === 'BUTTON' || ['hidden', 'clip'].includes(getComputedStyle(e).overflowX)) && shown(e))
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
  pieces.sort(([a], [b]) => a.top - b.top);  // so that each is held against those that begin before it ends
  pieces.forEach(([a, one], n) => {
    for (let at = n + 1; at < pieces.length && pieces[at][0].top < a.bottom - 4; at++) {
      const [b, other] = pieces[at];
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - b.top;
      if (one !== other && wide > 2 && high > 4)
        faults.push(`one over the other: ${one.data.trim().slice(0, 40)} / ${other.data.trim().slice(0, 40)}`);
    }
  });
  const words = (one) => one.nodeType === Node.TEXT_NODE && one.data.trim();
  const inText = (e) => [...e.parentElement.childNodes].some(words);
  const targets = [...document.querySelectorAll('#page :is(a[href], button, summary)')]
    .filter((e) => shown(e) && !inText(e)).map((e) => [e.getBoundingClientRect(), e]);
  for (const [box, e] of targets.filter(([box]) => Math.min(box.width, box.height) < 24)) {
    const [x, y] = [box.left + box.width / 2, box.top + box.height / 2];
    const near = ([other]) => Math.hypot(
      x - Math.min(Math.max(x, other.left), other.right), y - Math.min(Math.max(y, other.top), other.bottom)) < 12;
    const crowd = targets.filter((one) => one[1] !== e && near(one));
    if (crowd.length) faults.push(`too near: ${e.outerHTML.slice(0, 90)} / ${crowd[0][1].outerHTML.slice(0, 90)}`);
  }
  if (document.documentElement.scrollWidth > width) faults.push('scrolls sideways');
  document.adoptedStyleSheets = [];
  return [...new Set(faults)].slice(0, 5);
}"""
# Ask axe-core about all of the page but parts whose markup, words, figures and addresses aside, is known; at a desk
# about what the phone did not show. Then about pieces of text whose look is not known: colour, size and weight, and all
# that lies behind down to the first thing that covers. Text for ears alone has none.
ASK = """async ({ rules, lookRules, knownParts, knownLooks, desk }) => {
  if (!window.axe) return null;
  const parts = new Set(knownParts), every = [...document.body.querySelectorAll('*')];
  const sign = (e) => {
    const text = e.outerHTML
      .replace(/ (href|value|action|datetime)="[^"]*"|[0-9]+/g, '').replace(/>[^<]*[^<\\s][^<]*/g, '>.');
    return [...text].reduce((sum, one) => (Math.imul(31, sum) + one.charCodeAt(0)) | 0, text.length);
  };
  const fresh = (e) => !parts.has(sign(e));
  const found = [];
  const run = async (context, which) => {
    const { violations } = await axe.run(context, which);
    found.push(...violations.map(({ id, nodes }) => `${id}: ${nodes[0].html.slice(0, 160)}`));
  };
  const PARTS = 'header.head, footer.foot, main :is(.field, tr, li, dl > div)';
  let asked = [];
  if (desk) {
    const more = new Set(every.filter((e) => e.checkVisibility() && !window.shown.has(e)));
    asked = [...more].filter((e) => !more.has(e.parentElement) && fresh(e));
    if (asked.length) await run({ include: asked }, rules);
  } else {
    window.shown = new Set(every.filter((e) => e.checkVisibility()));
    const known = new Set(), above = (e) => e.parentElement.closest(PARTS);
    for (const e of document.querySelectorAll(PARTS)) {
      if (known.has(above(e)) || !fresh(e)) known.add(e);
      else parts.add(sign(e)), asked.push(e);
    }
    await run({ include: [document], exclude: [...known].filter((e) => !known.has(above(e))) }, rules);
  }
  const newParts = asked.map(sign);
  const before = new Set(knownLooks), looks = new Map();
  const says = (e) => e.matches('input, textarea, select, button')
    || [...e.childNodes].some((one) => one.nodeType === Node.TEXT_NODE && one.data.trim());
  const ground = (e) => {
    while (e && getComputedStyle(e).backgroundColor === 'rgba(0, 0, 0, 0)') e = e.parentElement;
    return e ? getComputedStyle(e).backgroundColor + getComputedStyle(e).backgroundImage : 'unknown ' + looks.size;
  };
  const beneath = (up) => {
    const { left, right, top, bottom } = up.getBoundingClientRect();
    const corners = [left + 1, right - 1].flatMap((x) => [top + 1, bottom - 1].map((y) => [x, y]));
    const seen = corners.map(([x, y]) => ground(document.elementsFromPoint(x, y).find((one) => !up.contains(one))));
    return [...new Set(seen)].join();
  };
  const look = (e) => {
    if (e.getBoundingClientRect().right <= 0) return '';  // beside the screen until it is focused
    const own = getComputedStyle(e), seen = [own.color, own.fontSize, own.fontWeight, own.textShadow];
    if (e.matches('a')) seen.push(own.textDecorationLine, getComputedStyle(e.parentElement).color);
    if (e.closest('[disabled], [aria-disabled=true]')) seen.push('off');
    for (let up = e, covered = false; up; up = up.parentElement) {
      const style = getComputedStyle(up);
      if (style.clipPath !== 'none') return '';  // for ears alone
      if (style.opacity !== '1') seen.push(style.opacity);
      if (covered) continue;
      if (style.backgroundColor !== 'rgba(0, 0, 0, 0)') seen.push(style.backgroundColor);
      if (style.backgroundImage !== 'none') seen.push(style.backgroundImage);
      covered = style.backgroundImage === 'none' && style.backgroundColor.startsWith('rgb(');
      if (!covered && ['absolute', 'fixed', 'sticky'].includes(style.position)) seen.push('over ' + beneath(up));
    }
    return seen.join('|');
  };
  for (const e of every)
    if (says(e) && e.checkVisibility()) {
      const one = look(e);
      if (one && !before.has(one)) looks.set(one, e);
    }
  if (looks.size) await run({ include: [...looks.values()] }, lookRules);
  return { found, parts: newParts, looks: [...looks.keys()].filter((one) => !one.includes('unknown')) };
}"""
_parts: set[int] = set()
_looks: set[str] = set()


def with_axe(page: Page) -> Page:
    """Let each page that comes bring axe-core along, which takes half of sending it to each of many."""
    page.add_init_script(AXE)
    return page


def violations(page: Page, *, desk: bool = False) -> list[str]:
    """Return what axe-core finds of the page and was not asked before; `desk`: beyond what the page showed before."""
    known = {"knownParts": sorted(_parts), "knownLooks": sorted(_looks)}
    asked = {"rules": RULES, "lookRules": LOOK_RULES, "desk": desk, **known}
    said: dict[str, list[Any]] | None = page.evaluate(ASK, asked)
    if said is None:
        page.evaluate(AXE)
        said = page.evaluate(ASK, asked)
    assert said is not None
    if not said["found"]:
        _parts.update(said["parts"])
        _looks.update(said["looks"])
    return said["found"]


def faults(page: Page, widths: tuple[int, int]) -> list[str]:
    """Return what is wrong with the page at the first width, and with its layout at both and with text spaced out."""
    found = _faults(page, widths)
    _widen(page, widths[0])
    return found


def faults_everywhere(page: Page, *, desk: bool = True) -> list[str]:
    """Return what is wrong with the page on a phone in the light and at a desk in the dark, loaded once for both."""
    found = []
    looks: tuple[tuple[tuple[int, int], Literal["light", "dark"]], ...] = ((PHONE, "light"), (DESK, "dark"))
    for widths, scheme in looks[: 1 + desk]:
        page.emulate_media(color_scheme=scheme)
        found += [f"{fault} ({scheme}, {widths[0]})" for fault in _faults(page, widths, desk=widths == DESK)]
    return found


def _faults(page: Page, widths: tuple[int, int], *, desk: bool = False) -> list[str]:
    _widen(page, widths[0])
    found = violations(page, desk=desk) + (page.evaluate(SMALL) if widths[0] == 360 else [])
    # The last width is the narrow one: 1280 px at a zoom of 400 % leave 320.
    for width, css, how in ((widths[0], "", ""), (widths[1], "", ""), (widths[1], SPACED, ", text spaced out")):
        _widen(page, width)
        found += [f"{fault} at {width}{how}" for fault in layout(page, width, css)]
    return found


def layout(page: Page, width: int, css: str = "") -> list[str]:
    """Return what is cut off, lies over something else, or makes the page scroll sideways at this width with `css`."""
    found: list[str] = page.evaluate(LAYOUT, [width, css])
    return found


def _widen(page: Page, width: int) -> None:
    if page.viewport_size != {"width": width, "height": 800}:
        page.set_viewport_size({"width": width, "height": 800})
