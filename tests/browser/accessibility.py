"""Accessibility faults of a page, found by axe-core out of the installed package."""

from functools import cache
from importlib.resources import files

# Contrast takes four fifths of axe-core's time, and a page sets hundreds of words in the same way. So it is
# measured on three of the elements that agree in tag, class, colours, opacity and size of letters, all the way up
# to the root. Every other rule looks at every element.
FAULTS = """
async () => {
  const numbers = new Map(), ways = new Map(), alike = new Map();
  const number = (text) => numbers.get(text) ?? numbers.set(text, numbers.size).get(text);
  const way = (element) => {
    if (element === null) return 0;
    if (!ways.has(element)) {
      const set = getComputedStyle(element);
      ways.set(element, number([
        way(element.parentElement), element.localName, element.getAttribute('class'), set.color,
        set.backgroundColor, set.backgroundImage, set.opacity, set.fontSize, set.fontWeight, set.position,
        element.matches(':disabled, [aria-disabled]') || Boolean(element.control?.disabled),
      ].join('|')));
    }
    return ways.get(element);
  };
  const worded = (element) => element.matches('input, select, textarea')
    || [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
  for (const element of document.querySelectorAll('body, body *')) {
    if (!worded(element) || !element.checkVisibility({visibilityProperty: true})) continue;
    alike.set(way(element), [...(alike.get(way(element)) ?? []), element]);
  }
  const three = (same) => same.length > 3 ? [...same.slice(0, 2), same.at(-1)] : same;
  const measured = [...alike.values()].flatMap(three);
  for (const element of measured) element.setAttribute('data-measured', '');
  axe.configure({rules: [{id: 'color-contrast', selector: '[data-measured]'}]});
  const {violations} = await axe.run({resultTypes: ['violations']});
  for (const element of measured) element.removeAttribute('data-measured');
  return violations.map((fault) => fault.id + ': ' + fault.nodes[0].html.slice(0, 200));
}
"""


@cache
def _axe() -> str:
    return files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


def faults(page) -> list[str]:
    """What axe-core finds on a page as it stands: the rule and the element, one line for each rule."""
    page.evaluate(_axe())
    return page.evaluate(FAULTS)


def faults_and_width(page) -> list[str]:
    """The same, and whether the page is wider than the screen."""
    wide = page.evaluate("document.documentElement.scrollWidth > innerWidth")
    return faults(page) + [f"wider than the screen: {page.viewport_size}"] * wide


def open_all(page) -> None:
    """Open every closed part of a page."""
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
