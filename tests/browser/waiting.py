"""Waiting: until something holds in a page, or in the book behind it.

The pages let no text be run as script, so the browser cannot look again and again by itself: it is asked. What
Playwright's `expect` can say is said with it; both wait for `LIMIT_S`.
"""

import time
from collections.abc import Callable

LIMIT_S = 60.0
LIMIT_MS = 1000 * LIMIT_S
LOOK_FOR_NEWS = """() => {
if (window.news === undefined) {
  const plain = window.fetch;
  window.news = 0;
  window.fetch = async (to, how) => {
    const answer = await plain(to, how);
    if (to !== location.href) return answer;
    const text = answer.text.bind(answer);
    answer.text = async () => { const html = await text(); setTimeout(() => { window.news += 1; }); return html; };
    return answer;
  };
}
document.dispatchEvent(new Event('sent'));
return window.news;
}"""


def until(page, script: str, arg: object = None) -> None:
    """Returns once `script` is true in the page; fails with the script after a minute."""
    end = time.monotonic() + LIMIT_S
    while not page.evaluate(script, arg):
        assert time.monotonic() < end, f"never true: {script}"
        page.wait_for_timeout(20)


def until_is(page, look: Callable[[], object], wanted: object) -> None:
    """Returns once `look()` gives what is wanted; fails with what it gave after a minute."""
    end = time.monotonic() + LIMIT_S
    while (seen := look()) != wanted:
        assert time.monotonic() < end, f"never {wanted!r}: {seen!r}"
        page.wait_for_timeout(20)


def after_news(page) -> None:
    """Returns once a page that shows a trial has looked for news and taken them in: it is at rest."""
    before = page.evaluate(LOOK_FOR_NEWS)
    until(page, "(before) => window.news > before", before)
