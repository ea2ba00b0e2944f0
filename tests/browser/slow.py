"""Slow: what makes the answer to each thing done in a page take its time; MS stands for how long."""

SLOW_ANSWERS = """
const quick = window.fetch;
window.fetch = async (to, how) => {
  const answer = await quick(to, how);
  if (how?.method === 'POST') await new Promise((over) => setTimeout(over, MS));
  return answer;
};
true"""
