/* Search of the manual: every word asked for has to stand in a passage; headings come first. */
const field = document.getElementById("sought"), found = document.getElementById("found");
const MOST = 12, AROUND = 60;
document.getElementById("search").hidden = false;

if (matchMedia("(max-width: 68rem)").matches) document.querySelector(".parts details")?.removeAttribute("open");

let loading = null;
function words() {
  loading ??= new Promise((done) => {
    const script = document.createElement("script");
    script.src = "words.js";
    script.onload = () => done(window.manualWords);
    document.head.append(script);
  });
  return loading;
}

function marked(text, asked) {
  const piece = document.createElement("span");
  let rest = text;
  for (;;) {
    const low = rest.toLowerCase();
    const hits = asked.map((word) => [low.indexOf(word), word.length]).filter(([at]) => at >= 0).sort((a, b) => a[0] - b[0]);
    if (!hits.length) break;
    const [at, length] = hits[0];
    const mark = document.createElement("mark");
    mark.textContent = rest.slice(at, at + length);
    piece.append(rest.slice(0, at), mark);
    rest = rest.slice(at + length);
  }
  piece.append(rest);
  return piece;
}

function around(text, asked) {
  const at = Math.max(0, text.toLowerCase().indexOf(asked[0]) - AROUND);
  return (at ? "… " : "") + text.slice(at, at + 3 * AROUND) + (text.length > at + 3 * AROUND ? " …" : "");
}

function row([title, address, heading, text], asked) {
  const item = document.createElement("li"), link = document.createElement("a"), name = document.createElement("b");
  link.href = address;
  name.append(marked(heading === title || !heading ? title : `${title}: ${heading}`, asked));
  link.append(name);
  if (text) link.append(document.createElement("br"), marked(around(text, asked), asked));
  item.append(link);
  return item;
}

function weight([title, , heading, text], asked) {
  const of = (part, points) => asked.filter((word) => part.toLowerCase().includes(word)).length * points;
  return of(title, 4) + of(heading, 3) + (text ? 0 : 2);
}

async function search() {
  const asked = field.value.toLowerCase().split(/\s+/).filter((word) => word.length > 1);
  if (!asked.length) { found.hidden = true; return; }
  const rows = (await words()).filter(([title, , heading, text]) => {
    const all = `${title} ${heading} ${text}`.toLowerCase();
    return asked.every((word) => all.includes(word));
  });
  const best = rows.map((each) => [weight(each, asked), each]).sort((a, b) => b[0] - a[0]).slice(0, MOST);
  const list = document.createElement("ul"), note = document.createElement("p");
  note.setAttribute("role", "status");
  note.className = "u";
  note.textContent = !rows.length ? "Nothing found. Try fewer or other words."
    : `${rows.length} passage${rows.length === 1 ? "" : "s"}${rows.length > MOST ? `, the first ${MOST}` : ""}`;
  list.append(...best.map(([, each]) => row(each, asked)));
  found.replaceChildren(note, list);
  found.hidden = false;
}

field.addEventListener("input", search);
field.addEventListener("focus", words, { once: true });
found.addEventListener("click", (event) => {
  if (event.target.closest("a")) { found.hidden = true; field.value = ""; }
});
