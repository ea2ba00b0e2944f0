// Forms work without this script. With it they update the sheet in place.
const sheet = () => document.getElementById('sheet');
let turn = 0;

const say = (text) => { document.getElementById('said').textContent = text; };

async function send(form, button) {
  const mine = ++turn;
  const data = new FormData(form, button);
  const body = form.enctype === 'multipart/form-data' ? data : new URLSearchParams(data);
  const to = button?.getAttribute('formaction') ?? form.getAttribute('action');
  const part = form.dataset.swap || 'sheet';  // "now": only the part with the next homing, which is there at once
  const headers = {'x-swap': part, accept: 'text/html'};
  const asks = form.method === 'get';
  const field = form.querySelector('[data-focus]');
  if (field) field.readOnly = true;  // nothing typed now could be taken for the reading on its way
  asking?.abort();
  try {
    const answer = await fetch(asks ? `${to}?${body}` : to, asks ? {headers} : {method: 'POST', headers, body});
    const html = await answer.text();
    if (mine !== turn) return;
    say('');
    const swapped = part === 'now' ? swapNow(html) : swap(html);
    if (!swapped) say(`Not done: ${answer.status} ${html.slice(0, 200)}`);
    else if (asks || answer.redirected) history.replaceState(null, '', answer.url);
    if (part === 'now') refreshSoon();
  } catch {
    say('Not saved: holdzero does not answer. Is it still running?');
  } finally {
    if (field) field.readOnly = false;
  }
}

function swap(html) {
  const next = new DOMParser().parseFromString(html, 'text/html').getElementById('sheet');
  if (!next) return false;
  const was = document.activeElement;
  const [start, end] = [was.selectionStart, was.selectionEnd];
  const opened = [...sheet().querySelectorAll('details[open][id]')].map((one) => one.id);
  const along = document.querySelector('.track')?.scrollLeft;
  sheet().replaceWith(document.adoptNode(next));
  document.title = next.querySelector('template').innerHTML;
  document.getElementById('heard').textContent = next.querySelector('h1').textContent;
  for (const id of opened) document.getElementById(id)?.setAttribute('open', '');
  const same = was.id ? document.getElementById(was.id) : null;
  const stays = was.matches('select, summary, .units button') && same;
  const wanted = next.querySelector('[aria-invalid]') || stays || next.querySelector('[data-focus]') || same || next.querySelector('[data-next]');
  wanted?.focus({preventScroll: wanted === same});
  if (wanted && wanted === same && start != null) wanted.setSelectionRange(start, end);
  ready(along);
  return true;
}

// At the Trial: what is entered here or on another device shows at once, and nothing being typed is lost.
let asking, soon, heard;
const now = () => document.getElementById('now');
const edited = (part) => [...part.querySelectorAll('input:not([type=hidden]), textarea')].some((one) => (
  one.type === 'checkbox' ? one.checked !== one.defaultChecked : !one.readOnly && one.value !== one.defaultValue));

function swapNow(html) {
  const next = new DOMParser().parseFromString(html, 'text/html').getElementById('now');
  if (!next || !now()) return false;
  const before = now().dataset.last;
  put(now(), next);
  document.getElementById('heard').textContent = next.querySelector('h1').textContent;
  const odd = next.querySelector('[aria-invalid]') || next.dataset.asks !== undefined;
  const field = next.querySelector('[data-focus]');
  field?.focus({preventScroll: true});
  if (odd) field?.select();  // typed over by the next figure, kept by Enter
  if (odd) beep(220, 2);
  else if (next.dataset.last && next.dataset.last !== before) {
    next.querySelector('.kept').classList.add('fresh');
    beep(880, 1);
  }
  return true;
}

function put(old, next) {
  const opened = [...old.querySelectorAll('details[open][id]')].map((one) => one.id);
  old.replaceWith(document.adoptNode(next));
  for (const id of opened) document.getElementById(id)?.setAttribute('open', '');
  fit();
}

function refreshSoon() {
  clearTimeout(soon);
  soon = setTimeout(refresh, 250);
}

async function refresh() {
  if (!document.querySelector('[data-part]')) return;
  asking?.abort();
  asking = new AbortController();
  const mine = turn;
  try {
    const answer = await fetch(location.href, {headers: {'x-swap': 'sheet', accept: 'text/html'}, signal: asking.signal});
    if (!answer.ok) return;
    const html = await answer.text();
    if (mine !== turn) return;  // something was sent meanwhile: its own answer is newer
    const page = new DOMParser().parseFromString(html, 'text/html');
    for (const next of page.querySelectorAll('[data-part], .rail')) {
      const old = next.id ? document.getElementById(next.id) : document.querySelector('.rail');
      if (!old) continue;
      if (next.id === 'now') updateNow(old, next);
      else if (!edited(old) && !(old.contains(document.activeElement) && document.activeElement.matches('input, textarea, select'))) {
        const was = old.contains(document.activeElement) && document.activeElement.id;
        put(old, next);
        if (was) document.getElementById(was)?.focus({preventScroll: true});
      }
    }
  } catch (trouble) {
    if (trouble.name !== 'AbortError') console.warn(trouble);
  }
}

function updateNow(old, next) {
  if (old.dataset.last === next.dataset.last && old.dataset.open === next.dataset.open && old.querySelector('h1').textContent === next.querySelector('h1').textContent) return;
  if (edited(old) || old.dataset.asks !== undefined || old.querySelector('[aria-invalid]')) {
    const moved = old.querySelector('.moved');  // what is being typed belongs to the step that was shown
    moved.textContent = `Meanwhile on another device: ${next.querySelector('.kept').textContent.trim()}. Next there: ${next.querySelector('h1').textContent}.`;
    moved.hidden = false;
    return;
  }
  const was = old.contains(document.activeElement) && document.activeElement.id;
  put(old, next);
  if (old.dataset.last !== next.dataset.last) next.querySelector('.kept').classList.add('fresh');
  if (document.getElementById('heard-line')) {  // the indicator of this computer: the person looks at the machine
    if (Number(next.dataset.open) > Number(old.dataset.open)) beep(220, 2);
    else if (old.dataset.last !== next.dataset.last) beep(880, 1);
  }
  if (was) document.getElementById(was)?.focus({preventScroll: true});
}

function listen() {
  const from = document.querySelector('[data-live-from]')?.dataset.liveFrom;
  const trial = from?.split('?')[0];
  if (heard?.trial === trial) return;
  heard?.source.close();
  heard = trial && {trial, source: new EventSource(from)};
  heard?.source.addEventListener('changed', refreshSoon);
  heard?.source.addEventListener('heard', (event) => {
    const [line, lines] = ['heard-line', 'heard-lines'].map((id) => document.getElementById(id));
    const {state, lines: read} = JSON.parse(event.data);
    if (!line) return;
    line.textContent = state;
    lines.hidden = !read.length;
    lines.tBodies[0].replaceChildren(...read.map((one) => {
      const row = document.createElement('tr');
      row.insertCell().append(Object.assign(document.createElement('code'), {textContent: one.line}));
      row.insertCell().textContent = `${one.reads ? '✓' : '–'} ${one.said}`;
      return row;
    }));
  });
}
addEventListener('pagehide', () => { heard?.source.close(); heard = undefined; });
addEventListener('pageshow', (event) => { if (event.persisted) { listen(); refreshSoon(); } });

// Keypad and sound: on or off on this device, remembered.
const coarse = matchMedia('(pointer: coarse)').matches;
const on = (what) => { try { return (localStorage.getItem(what) ?? String(what === 'keypad' && coarse)) === 'true'; } catch { return what === 'keypad' && coarse; } };
let sounds;
function beep(pitch, times) {
  if (!on('sound')) return;
  sounds ??= new AudioContext();
  sounds.resume();
  for (let i = 0; i < times; i++) {
    const [tone, loud, start] = [sounds.createOscillator(), sounds.createGain(), sounds.currentTime + i * 0.2];
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0.3, start);
    loud.gain.exponentialRampToValueAtTime(0.001, start + 0.15);
    tone.connect(loud).connect(sounds.destination);
    tone.start(start);
    tone.stop(start + 0.16);
  }
}

function fit() {
  const keypad = document.querySelector('.keypad');
  if (!keypad) return;
  keypad.hidden = !on('keypad');
  const field = document.getElementById('f-deviation');
  field.inputMode = on('keypad') && coarse ? 'none' : 'decimal';
  for (const button of document.querySelectorAll('[data-toggle]')) {
    button.hidden = false;
    button.setAttribute('aria-pressed', on(button.dataset.toggle));
  }
}

document.addEventListener('pointerdown', (event) => {
  if (event.target.closest('[data-key]') && event.pointerType === 'mouse') event.preventDefault();  // the field keeps the focus
});
document.addEventListener('click', (event) => {
  const toggle = event.target.closest('[data-toggle]')?.dataset.toggle;
  if (toggle) {
    try { localStorage.setItem(toggle, String(!on(toggle))); } catch { say('This browser does not remember that.'); }
    fit();
    if (toggle === 'sound') beep(880, 1);
    return;
  }
  const copied = document.getElementById(event.target.dataset?.copy);
  if (copied) {
    navigator.clipboard.writeText(copied.value).then(() => { event.target.textContent = 'Copied'; }, () => { copied.select(); });
    return;
  }
  const key = event.target.closest('[data-key]')?.dataset.key;
  if (!key) return;
  const field = document.getElementById('f-deviation');
  if (field.readOnly) return;
  const all = field.selectionStart === 0 && field.selectionEnd === field.value.length && document.activeElement === field;
  if (key === 'sign') field.value = /^\s*[-−]/.test(field.value) ? field.value.replace(/[-−]/, '') : `-${field.value.trim()}`;
  else if (key === 'back') field.value = field.value.slice(0, -1);
  else field.value = (all ? '' : field.value) + key;
  field.setSelectionRange(field.value.length, field.value.length);
});

function ready(along) {
  const track = document.querySelector('.track');
  const here = track?.querySelector('.here');
  if (here) track.scrollLeft = along ?? here.offsetLeft - (track.clientWidth - here.clientWidth) / 2;
  for (const button of document.querySelectorAll('[data-copy]')) button.hidden = false;
  fit();
  listen();
  if (document.querySelector('[data-late]')) refreshSoon();
}

document.addEventListener('submit', (event) => {
  if (!event.target.matches('[data-swap]')) return;
  event.preventDefault();
  send(event.target, event.submitter);
});

let later;
document.addEventListener('change', (event) => {
  const form = event.target.form;
  if (!form?.matches('[data-live]')) return;
  clearTimeout(later);
  later = setTimeout(() => form.isConnected && form.requestSubmit(), 60);
});

// What is typed is answered as one types, before it is kept: all but the fields is exchanged.
let typing;
document.addEventListener('input', (event) => {
  const form = event.target.form;
  if (!form?.matches('[data-typed]')) return;
  clearTimeout(typing);
  typing = setTimeout(() => form.isConnected && showTyped(form), 250);
});
async function showTyped(form) {
  const mine = turn;
  const sent = new URLSearchParams(new FormData(form));
  try {
    const answer = await fetch(form.dataset.typed, {method: 'POST', headers: {'x-swap': 'sheet'}, body: sent});
    const html = await answer.text();
    const stale = mine !== turn || !form.isConnected || `${new URLSearchParams(new FormData(form))}` !== `${sent}`;
    if (stale) return;
    const next = new DOMParser().parseFromString(html, 'text/html');
    const opened = [...document.querySelectorAll('[data-now] details[open][id]')].map((one) => one.id);
    for (const place of document.querySelectorAll('[data-now]')) {
      const now = next.getElementById(place.id);
      if (now) place.replaceWith(document.adoptNode(now));
    }
    for (const id of opened) document.getElementById(id)?.setAttribute('open', '');
  } catch { /* keeping it says so */ }
}

ready();
if (matchMedia('(pointer: fine)').matches) document.querySelector('[data-focus]')?.focus({preventScroll: true});
