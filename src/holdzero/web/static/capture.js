// A capture: the file goes up block by block with its progress; reading shows how far it is; the waveform is looked
// at closer and along. Without this script the form, the buttons and the links below the picture do the same.
const say = (part, text) => { part.querySelector('[role=status]').textContent = text; };

// Bringing in: the file as it lies, so that neither side holds it whole.
document.addEventListener('submit', (event) => {
  const form = event.target;
  const file = form.matches('[data-stream]') && form.elements.file.files[0];
  if (!file) return;
  event.preventDefault();
  const shown = form.querySelector('.progress');
  const bar = shown.querySelector('progress');
  const button = form.querySelector('button');
  const sent = new XMLHttpRequest();
  sent.open('POST', `${form.getAttribute('action')}?name=${encodeURIComponent(file.name)}`);
  sent.setRequestHeader('content-type', 'application/octet-stream');
  sent.setRequestHeader('accept', 'text/html');
  sent.upload.addEventListener('progress', ({loaded, total}) => {
    bar.value = (100 * loaded) / Math.max(total, 1);
    say(shown, `${(loaded / 1e6).toFixed(0)} of ${(total / 1e6).toFixed(0)} MB`);
  });
  const failed = (text) => { button.disabled = false; bar.hidden = true; say(shown, text); };
  sent.addEventListener('load', () => {
    if (sent.status < 400 && sent.responseURL) { location.assign(sent.responseURL); return; }
    const page = new DOMParser().parseFromString(sent.responseText, 'text/html');
    failed(page.querySelector('main')?.innerText.trim().replace(/\s+/g, ' ').slice(0, 400) || `Not brought in: ${sent.status}`);
  });
  sent.addEventListener('error', () => failed('Not brought in: holdzero does not answer. Is it still running?'));
  shown.hidden = bar.hidden = false;
  button.disabled = true;
  sent.send(file);
});

// Reading: asked for until it is done.
async function follow() {
  const shown = document.querySelector('[data-reading]');
  if (!shown) return;
  try {
    const {reading, percent} = await (await fetch(shown.dataset.reading)).json();
    if (!reading) { location.reload(); return; }
    shown.querySelector('progress').value = percent;
    say(shown, `${percent} %`);
  } catch { say(shown, 'holdzero does not answer. Is it still running?'); }
  setTimeout(follow, 400);
}
follow();

// The waveform: each look is drawn by the server for the window asked, and laid in the place of the one before.
const wave = () => document.getElementById('wave');
const figures = (part) => Object.fromEntries(['start', 'end', 'last', 'tick', 'origin', 'event', 'events', 'switch'].map((name) => [name, Number(part.dataset[name])]));
let turn = 0, waiting;

function looked(change) {
  const {switch: of, ...now} = figures(wave());
  const query = new URLSearchParams({switch: change.switch ?? of, event: change.event ?? now.event});
  if (change.start !== undefined) {
    const length = Math.min(Math.max(4, Math.round(change.end - change.start)), Math.max(4, now.last));
    const start = Math.round(Math.max(0, Math.min(change.start, now.last - length)));
    query.set('from', start);
    query.set('to', start + length);
  }
  return query;
}

async function show(query) {
  const mine = ++turn;
  query.set('part', 'wave');
  let html;
  try {
    const answer = await fetch(`${location.pathname}?${query}`, {headers: {accept: 'text/html'}});
    if (!answer.ok) return;
    html = await answer.text();
  } catch { return; }
  const next = new DOMParser().parseFromString(html, 'text/html').getElementById('wave');
  if (mine !== turn || !next) return;
  const was = document.activeElement;
  const [inside, id, way] = [wave().contains(was), was.id, was.dataset?.way];
  wave().replaceWith(document.adoptNode(next));
  if (inside) (id ? document.getElementById(id) : next.querySelector(`[data-way="${way}"]`) ?? next)?.focus({preventScroll: true});
  query.delete('part');
  history.replaceState(null, '', `${location.pathname}?${query}`);
}
const soon = (query) => { clearTimeout(waiting); waiting = setTimeout(() => show(query), 60); };

document.addEventListener('click', (event) => {
  const link = event.target.closest?.('#wave a[data-way]');
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  show(new URL(link.href).searchParams);
});
document.addEventListener('input', (event) => {
  if (event.target.id === 'scrub') soon(looked({event: event.target.value - 1}));
});

function step(key) {
  const {start, end, last, event, events} = figures(wave());
  const length = end - start, middle = (start + end) / 2;
  const by = (share) => ({start: start + share * length, end: end + share * length});
  const about = (times) => ({start: middle - length / times / 2, end: middle + length / times / 2});
  return {
    ArrowLeft: () => by(-0.125), ArrowRight: () => by(0.125), '+': () => about(2), '=': () => about(2), '-': () => about(0.5),
    0: () => ({start: 0, end: last}), Home: () => ({event: 0}), End: () => ({event: events - 1}),
    PageUp: () => ({event: Math.max(event - 1, 0)}), PageDown: () => ({event: Math.min(event + 1, events - 1)}),
    Escape: () => ({event}),
  }[key]?.();
}
document.addEventListener('keydown', (event) => {
  if (event.target.id !== 'wave' || event.ctrlKey || event.altKey || event.metaKey) return;
  const change = step(event.key);
  if (!change) return;
  event.preventDefault();
  show(looked(change));
});

// Where in the drawing: the lanes begin right of their names.
function place(event) {
  const svg = [...wave().querySelectorAll('svg')].find((one) => one.getBoundingClientRect().width > 0);
  const {start, end, tick, origin} = figures(wave());
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const width = svg.viewBox.baseVal.width, left = 62, room = width - left - 12;
  const share = (at.x - left) / room;
  const ticks = start + share * (end - start);
  return {share, ticks, seconds: (ticks - origin) * tick, px: svg.getBoundingClientRect().width * room / width};
}
const inUnit = (s) => { const [size, name] = [[1, 's'], [1e-3, 'ms'], [1e-6, 'µs'], [1e-9, 'ns']].find(([one]) => Math.abs(s) >= one) ?? [1e-9, 'ns']; return `${(s / size).toPrecision(4)} ${name}`; };

let drag;
document.addEventListener('pointerdown', (event) => {
  if (event.button !== 0 || !event.target.closest?.('#wave .picture')) return;
  const {start, end} = figures(wave());
  drag = {x: event.clientX, start, end, px: place(event).px};
  if (event.pointerType === 'mouse') event.preventDefault();
});
document.addEventListener('pointermove', (event) => {
  const part = wave();
  if (!part) return;
  if (drag) {
    const by = (drag.x - event.clientX) / drag.px * (drag.end - drag.start);
    for (const svg of part.querySelectorAll('svg')) svg.style.transform = `translateX(${event.clientX - drag.x}px)`;
    drag.to = {start: drag.start + by, end: drag.end + by};
    return;
  }
  const out = part.querySelector('.read-out');
  if (!event.target.closest?.('#wave .picture svg') || event.pointerType === 'touch') { out.textContent = ''; return; }
  const {share, seconds} = place(event);
  out.textContent = share < 0 || share > 1 ? '' : inUnit(seconds);
  const around = part.querySelector('.picture').getBoundingClientRect();
  out.style.left = `${Math.max(0, Math.min(event.clientX - around.x - out.offsetWidth / 2, around.width - out.offsetWidth))}px`;
  out.style.top = `${event.clientY - around.y - out.offsetHeight - 12}px`;
});
const drop = () => {
  if (drag?.to) show(looked(drag.to));
  else for (const svg of wave()?.querySelectorAll('svg') ?? []) svg.style.transform = '';
  drag = undefined;
};
document.addEventListener('pointerup', drop);
document.addEventListener('pointercancel', () => { if (drag) delete drag.to; drop(); });
document.addEventListener('wheel', (event) => {
  if (!event.target.closest?.('#wave .picture') || !(event.ctrlKey || event.shiftKey || document.activeElement?.closest('#wave'))) return;
  event.preventDefault();
  const {start, end} = figures(wave());
  const {ticks} = place(event);
  const times = event.deltaY < 0 ? 0.8 : 1.25;
  soon(looked({start: ticks - (ticks - start) * times, end: ticks + (end - ticks) * times}));
}, {passive: false});
