"""Held: a page whose answers wait until the test lets them through, and whose clock the test moves.

So the order of what happens is the test's, however fast the computer is.
"""

HOLD = """() => {
const plain = window.fetch;
const through = new Promise((over) => { window.letThrough = over; });
window.fetch = async (to, how) => {
  const answer = await plain(to, how);
  if (how?.method === 'POST') await through;
  return answer;
};
}"""


def hold(page):
    """Hold back the answer to each thing done in the page; return the page."""
    page.evaluate(HOLD)
    return page


def let_through(page) -> None:
    """Let what was held back through, and all that follows at once."""
    page.evaluate("window.letThrough()")


def stop_clock(page) -> None:
    """Let no time pass in the page, however long the test takes."""
    page.evaluate("() => { const at = performance.now(); performance.now = () => at; }")


def pass_time(page, *, ms: float) -> None:
    """Let so much time have passed in the page."""
    page.evaluate(
        "(ms) => { const now = performance.now.bind(performance); performance.now = () => now() + ms; }", ms
    )
