// Forms work without this script. With it they update the sheet in place.
const sheet = () => document.getElementById('sheet');
let turn = 0;

const say = (text) => { document.getElementById('said').textContent = text; };

// What a page of an error says, and the buttons that mend it, told beside what was typed, which stays where it is.
function sayRefused(page) {
  const heading = page.querySelector('h1').textContent, todo = page.querySelector('[data-refused] div:last-child dd').textContent;
  say(`Not kept: ${heading} To do: ${todo}.`);
  for (const repair of page.querySelectorAll('[data-refused] ~ form:not([data-typed]), a[data-apart]')) document.getElementById('said').append(document.adoptNode(repair));
  document.querySelector('#said a')?.setAttribute('target', '_blank');  // this page stays, and what is typed in it
}

let underway = 0;  // forms sent and not answered yet: what is asked for meanwhile could be older than their answer
let entered = Promise.resolve();  // the answer to the reading on its way: whatever is done after it waits for it
async function send(form, button) {
  const data = new FormData(form, button);
  const body = form.enctype === 'multipart/form-data' ? data : new URLSearchParams(data);
  const to = button?.getAttribute('formaction') ?? form.getAttribute('action');
  const part = form.dataset.swap || 'sheet';  // "now": only the part with the next homing, which is there at once
  const headers = {'x-swap': part, accept: 'text/html'};
  const asks = form.method === 'get';
  const sent = {form, follows: form.matches('[data-live]') && !button, texts: new Map([...fieldsOf(form)].map((control) => [control, worth(control)]))};
  const before = entered;
  let over;
  if (form.matches('#entry')) entered = new Promise((resolve) => { over = resolve; });
  underway += 1;
  keepKeys();
  asking?.abort();
  try {
    await before;
    const mine = ++turn;
    await saving;  // in the order of doing
    const answer = await fetch(asks ? `${to}?${body}` : to, asks ? {headers} : {method: 'POST', headers, body, keepalive: form.matches('#entry')});
    const html = await answer.text();
    await handOff();
    if (mine !== turn) return;
    say('');
    const page = new DOMParser().parseFromString(html, 'text/html');
    if (!asks && page.querySelector('[data-refused]') && (answer.status >= 500 || answer.status === 401 || part === 'now')) return sayRefused(page);
    const swapped = part === 'now' ? swapNow(html, sent) : swap(html, sent);
    if (swapped && part !== 'now' && answer.status >= 400) intoView();
    if (!swapped) say(`Not done: ${answer.status} ${html.slice(0, 200)}`);
    else if (asks || answer.redirected) {
      if (new URL(answer.url).pathname !== location.pathname) scrollTo(0, 0);
      history.replaceState(null, '', answer.url);
    }
  } catch {
    say('Not saved: holdzero does not answer. Is it still running?');
  } finally {
    underway -= 1;
    over?.();
    if (document.querySelector(PARTS)) refreshSoon();
    if (!underway) goOn(form);
  }
}

// What is typed while a form is on its way (a gauge with keys of its own is quick) goes on at the next reading of the
// same candidate and power-up, key by key, Enter too; anywhere else it is told, and taken for nothing.
let typedOn;  // the keys and the entry they were typed in, while a form is on its way
const ENTRY = '#entry [data-keyed]', PLACED = `${ENTRY}, #f-note, #f-why`;
const samePlace = (one, other) => ['sensor', 'axis', 'set', 'again'].every((name) => one.elements[name]?.value === other.elements[name]?.value);
const tellUntaken = (text) => say(`${document.getElementById('said').textContent} Typed meanwhile and not taken: ${text}`.trim());
function keepKeys() {
  const entry = document.querySelector('body:not(.phone) #entry');  // a phone lets readings wait in a row of its own
  if (!entry) return;
  for (const field of document.querySelectorAll(ENTRY)) field.readOnly = true;  // nothing typed now could be taken for what is on its way
  typedOn ??= {entry, keys: []};
}
document.addEventListener('keydown', (event) => {
  const {key, target, repeat} = event;
  if (!target.matches(ENTRY) || event.ctrlKey || event.altKey || event.metaKey) return;
  if (repeat && key === 'Enter') event.preventDefault();  // held down it is pressed once
  if (!typedOn || (key.length > 1 && key !== 'Enter' && key !== 'Backspace')) return;
  event.preventDefault();
  if (!repeat) typedOn.keys.push(key);
}, true);
function goOn(sent) {
  for (const field of document.querySelectorAll(ENTRY)) field.readOnly = false;
  if (!typedOn) return;
  const {entry, keys} = typedOn;
  typedOn = undefined;
  const text = keys.map((key) => ({Enter: ' ', Backspace: '⌫'}[key] ?? key)).join('').trim();
  if (!text) return;
  const next = document.querySelector('#entry');
  const waits = next === sent || now()?.dataset.asks !== undefined || next?.querySelector('[aria-invalid]');  // for the person
  if (!next || waits || !samePlace(next, entry)) return tellUntaken(text);
  for (const key of keys) {
    if (typedOn) typedOn.keys.push(key);
    else if (key !== 'Enter') typeInto(document.activeElement.matches(ENTRY) ? document.activeElement : keyed(), key);
    else if (next.elements.deviation.value.trim()) next.requestSubmit();
  }
}
function typeInto(field, key) {
  if (key === 'Backspace') field.value = field.value.slice(0, -1);
  else if (key === '±') field.value = /^\s*[-−]/.test(field.value) ? field.value.replace(/[-−]/, '') : `-${field.value.trim()}`;
  else field.value += key;
  field.setSelectionRange(field.value.length, field.value.length);
  keepUnsent();
}

// What was typed beside what was sent stays at the same candidate and power-up; elsewhere it is told.
function typedBeside(sent, within) {
  const entry = document.querySelector('#entry');
  const beside = [...(within ?? entry)?.querySelectorAll(FIELDS) ?? []].filter((control) => control.form !== sent.form && !control.matches('select'));
  const controls = beside.filter((control) => changed(control) || (control.matches(ENTRY) && control.value.trim()));
  return {entry, controls, at: beside.find((control) => control === document.activeElement)?.id};
}
function bringAlong({entry, controls, at}) {
  const next = document.querySelector('#entry');
  const same = next && entry && samePlace(next, entry);
  const untaken = [];
  for (const control of controls) {
    const there = next && document.getElementById(control.id);
    if (!there || (!same && control.matches(PLACED))) untaken.push(control.value);
    else if (control.type === 'checkbox') there.checked = control.checked;
    else there.value = control.value;
  }
  if (same && at) document.getElementById(at)?.focus({preventScroll: true});
  if (untaken.length) tellUntaken(untaken.join(', '));
  keepUnsent();
}

// What is wrong is seen, however far the page is scrolled.
function intoView() {
  const wrong = sheet().querySelector('main [aria-invalid]')?.closest('.field') ?? sheet().querySelector('main [role=alert]') ?? sheet().querySelector('main h1');
  const {top, bottom} = wrong?.getBoundingClientRect() ?? {};
  if (top < 0 || bottom > innerHeight) wrong.scrollIntoView({block: 'center'});
}

// A reading typed and not yet accepted is there again after a reload, under its ticket, so that it counts once.
const unsent = () => `unsent ${location.pathname}${new URLSearchParams(location.search).get('trial') ?? ''}`;
const placeOf = (entry) => ['sensor', 'axis', 'set', 'side', 'homing', 'again'].map((name) => entry.elements[name]?.value ?? '').join('\n');
function keepUnsent() {
  const entry = document.querySelector('#entry');
  const [text, way] = ['deviation', 'to_index'].map((name) => entry?.elements[name]?.value ?? '');
  try {
    if (!text && !way) return sessionStorage.removeItem(unsent());
    const label = entry.querySelector('label').textContent.trim();
    sessionStorage.setItem(unsent(), JSON.stringify({text, way, label, at: placeOf(entry), ticket: entry.elements.ticket.value}));
  } catch { /* without storage it is as it was */ }
}
function unsentAgain() {
  const entry = document.querySelector('#entry');
  let kept;
  try { kept = JSON.parse(sessionStorage.getItem(unsent())); } catch { return; }
  if (!entry || !kept || entry.elements.deviation.value) return;
  const typed = [kept.text, kept.way].filter(Boolean).join(', ');
  if (placeOf(entry) !== kept.at) {
    keepUnsent();
    return say(`${typed} was typed before, for ${kept.label}, and is not in the field any more: the newest readings show whether it was kept.`);
  }
  entry.elements.deviation.value = kept.text;
  if (entry.elements.to_index) entry.elements.to_index.value = kept.way;
  entry.elements.ticket.value = kept.ticket;
  say(`${typed} was typed before and is not kept yet: accept it, or clear it.`);
}

// The answer is laid around what a hand is at: `sent` says what it answers.
function swap(html, sent) {
  const next = new DOMParser().parseFromString(html, 'text/html').getElementById('sheet');
  if (!next) return false;
  const was = document.activeElement;
  const [start, end] = [was.selectionStart, was.selectionEnd];
  const opened = [...sheet().querySelectorAll('details[open][id]')].map((part) => part.id);
  const along = document.querySelector('.track')?.scrollLeft;
  const typed = typedBeside(sent);  // all other fields are laid around
  document.title = (next.querySelector('template')?.innerHTML ?? document.title).trim();
  const heading = next.querySelector('h1').textContent;
  const held = new Map([...sheet().querySelectorAll(FIELDS)].map((control) => [control, hold(control, sent)]).filter(([, way]) => way));
  if (held.size) layAround(sheet(), next, held);
  else sheet().replaceWith(document.adoptNode(next));
  const told = sent.told || document.querySelector('.told p')?.textContent;
  document.getElementById('heard').textContent = told ? `${told} ${heading}` : heading;
  for (const id of opened) document.getElementById(id)?.setAttribute('open', '');
  for (const [id, fate] of fates) showFate(document.getElementById(id), fate);
  ready(along);
  bringAlong(typed);
  if (was.isConnected && was !== document.body) return true;
  const same = was.id ? document.getElementById(was.id) : null;
  const stays = was.matches('select, summary, .units button') && same;
  const first = sent.follows ? same : sheet().querySelector('[aria-invalid]') || stays || sheet().querySelector('[data-focus]') || same || sheet().querySelector('[data-next]');
  first?.focus({preventScroll: first === same});
  if (first && first === same && start != null) first.setSelectionRange(start, end);
  return true;
}

const FIELDS = 'input:not([type=hidden]), select, textarea';
const fieldsOf = (form) => [...form.elements].filter((control) => control.matches(FIELDS));
const worth = (control) => (control.type === 'checkbox' || control.type === 'radio' ? String(control.checked) : control.value.trim());
const savesItself = (control) => control.form?.matches('[data-saves]');
const asKept = new WeakMap();  // what was kept of a field as it is typed there; the book may write it with its unit
const changed = (control) => worth(control) !== stood(control) && worth(control) !== asKept.get(control);

// What stood in a field when the server gave it.
function stood(control) {
  const kept = savesItself(control) && control.form.elements[`was.${control.name}`];
  if (kept) return kept.value;
  if (control.type === 'checkbox' || control.type === 'radio') return String(control.defaultChecked);
  if (control.matches('select')) return ([...control.options].find((option) => option.defaultSelected) ?? control.options[0])?.value ?? '';
  return control.defaultValue.trim();
}

// How an answer leaves a field: '' lets it be exchanged, 'around' lays it around what is typed, 'as it is' does not touch it.
function hold(control, sent) {
  if (control.closest('#entry')) return '';  // what is typed there goes on at the same place only
  const mine = sent.texts?.has(control);
  const since = mine && worth(control) !== sent.texts.get(control);
  const focused = control === document.activeElement;
  if (mine && sent.follows) return focused || since ? 'around' : '';
  if (mine) return since ? 'as it is' : '';
  return focused || changed(control) ? 'as it is' : '';
}

function layAround(old, next, held) {
  for (const {name, value} of [...next.attributes]) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  for (const {name} of [...old.attributes]) if (name !== 'open' && !next.hasAttribute(name)) old.removeAttribute(name);
  const within = new Map();
  for (const control of held.keys()) {
    const child = [...old.children].find((part) => part.contains(control));
    if (child) within.set(child, [...within.get(child) ?? [], control]);
  }
  const pairs = new Map();
  for (const [child, controls] of within) {
    const match = [...next.children].find((part) => controls.some(({id}) => part.id === id || part.querySelector(`[id="${CSS.escape(id)}"]`)));
    if (match && !pairs.has(match)) pairs.set(match, child);
    else for (const {id} of controls) next.getRootNode().getElementById?.(id)?.closest('.field')?.remove();  // it has moved: it stays where the hand is
  }
  for (const child of [...old.childNodes]) if (!within.has(child)) child.remove();
  let at = old.firstChild;
  for (const part of [...next.childNodes]) {
    const child = pairs.get(part);
    if (!child) { old.insertBefore(document.adoptNode(part), at); continue; }
    at = child.nextSibling;
    const [control] = within.get(child);
    if (child.matches('.field, .tick-box') && held.get(control) === 'as it is') continue;
    if (child !== control) { layAround(child, part, held); continue; }
    for (const name of ['aria-invalid', 'aria-describedby']) {
      if (part.hasAttribute(name)) child.setAttribute(name, part.getAttribute(name));
      else child.removeAttribute(name);
    }
  }
}

// A form that saves itself sends each field when it is left, with what stood there before, so that the server can merge
// by field; never one that a hand is typing in.
const leaving = new Map();  // fields that were left changed and are not kept yet, and what was in them
const fates = new Map();  // by name in the page: kept, waits, elsewhere
const WORDS = {kept: ['✓', 'kept'], waits: ['…', 'not kept yet'], elsewhere: ['↻', 'changed elsewhere']};
let saving, away = false;

function left(controls) {
  for (const control of controls) leaving.set(control, worth(control));
  return saving ??= saveAll().finally(() => { saving = undefined; });
}

async function saveAll() {
  while (leaving.size && await saveSome());
}

async function saveSome() {
  for (const control of [...leaving.keys()]) if (!control.isConnected) leaving.delete(control);
  const form = [...leaving.keys()][0]?.form;
  if (!form) return false;
  const mine = ++turn;
  const texts = new Map([...leaving].filter(([control]) => control.form === form));
  const body = new URLSearchParams();
  for (const {type, name, value} of form.elements) if (type === 'hidden' && !name.startsWith('was.')) body.append(name, value);
  for (const [control, text] of texts) {
    body.append(control.name, text);
    body.append(`was.${control.name}`, stood(control));
  }
  let answer, html;
  try {
    answer = await fetch(form.getAttribute('action'), {method: 'POST', headers: {'x-swap': 'sheet', accept: 'text/html'}, body, keepalive: true});
    html = await answer.text();
  } catch {
    away = true;
    for (const control of texts.keys()) setFate(control, 'waits');
    say('Not kept: holdzero does not answer. Is it still running? What is marked … is sent again by itself.');
    setTimeout(() => left([]), 3000);
    return false;
  }
  away = false;
  await handOff();
  for (const [control, text] of texts) if (leaving.get(control) === text) leaving.delete(control);
  const page = new DOMParser().parseFromString(html, 'text/html');
  const refused = page.querySelector('[data-refused]');
  if (refused || ![200, 409, 422].includes(answer.status) || !page.getElementById('sheet')) {
    for (const control of texts.keys()) setFate(control, 'waits');
    if (refused) sayRefused(page);
    else say(`Not kept: ${answer.status} ${page.querySelector('h1')?.textContent ?? html.slice(0, 200)}`);
    return false;
  }
  say('');
  const told = [];
  for (const [control, text] of texts) {
    const now = page.getElementById(control.id);
    const label = control.labels[0]?.textContent.trim() ?? control.name;
    if (now?.matches('[aria-invalid]')) {
      asKept.delete(control);
      fates.delete(control.id);
      told.push(`${label}: not kept. ${now.closest('.field').querySelector('.error').textContent.trim()}`);
    } else if (answer.status === 422 && page.querySelector('[data-saves] > .error')) {
      fates.set(control.id, 'waits');
      told.push(`${label}: not kept.`);
    } else {
      asKept.set(control, text);
      fates.set(control.id, 'kept');
      told.push(`${label}: kept.`);
    }
  }
  for (const control of fieldsOf(form)) {
    const now = page.getElementById(control.id);
    if (now && !texts.has(control) && !changed(control) && stood(now) !== stood(control)) fates.set(control.id, 'elsewhere');
  }
  if (mine === turn) swap(html, {form, follows: true, texts, told: told.join(' ')});
  for (const typed of document.querySelectorAll('[data-typed]')) if (fieldsOf(typed).some(changed)) typedSoon(typed);
  return true;
}

function setFate(control, fate) {
  fates.set(control.id, fate);
  showFate(control, fate);
}

function showFate(control, fate) {
  const field = control?.closest('.field');
  field?.querySelector('.fate')?.remove();
  if (!field || !fate) return;
  const [mark, words] = WORDS[fate];
  const shown = Object.assign(document.createElement('span'), {className: 'fate', textContent: mark, title: words});
  shown.dataset.fate = fate;
  shown.append(Object.assign(document.createElement('span'), {className: 'hidden', textContent: ` ${words}`}));
  field.querySelector('label').after(shown);
}

function keepWhole(form, button) {
  if (button?.name === 'take') {
    const control = form.elements[button.value];
    control.value = stood(control);
    leaving.delete(control);
    fates.delete(control.id);
    control.removeAttribute('aria-invalid');
    control.closest('.field').querySelectorAll('.elsewhere').forEach((part) => part.remove());
    control.closest('.field').classList.remove('wrong');
    control.focus();
    return;
  }
  const waits = fieldsOf(form).filter((control) => changed(control) && leaving.get(control) !== worth(control));
  const explicit = button && button === document.activeElement;
  if (waits.length || leaving.size) left(waits).then(() => { if (explicit) form.isConnected && form.querySelector('[aria-invalid]')?.focus(); });
  else document.getElementById('heard').textContent = 'All is kept.';
}

// A page is left only when what was left in its fields is kept.
document.addEventListener('click', (event) => {
  const link = event.target.closest?.('a[href]');
  if (!saving || !link || link.target || link.hasAttribute('download') || event.ctrlKey || event.metaKey || event.shiftKey) return;
  if (link.pathname === location.pathname && link.search === location.search && link.hash) return;
  event.preventDefault();
  saving.then(() => { if (!document.querySelector('[data-saves] [aria-invalid]') && !leaving.size) location.assign(link.href); });
}, true);
addEventListener('beforeunload', (event) => { if (away && leaving.size) event.preventDefault(); });

// A button pressed is not exchanged before it is let go of.
let pressed;
document.addEventListener('pointerdown', () => {
  let up;
  pressed = new Promise((resolve) => { up = resolve; });
  const over = () => setTimeout(up, 20);
  for (const sign of ['pointerup', 'pointercancel']) addEventListener(sign, over, {once: true, capture: true});
  setTimeout(up, 1500);
}, true);
const handOff = () => pressed;

// Back in this tab, it shows what others have kept meanwhile.
async function look() {
  if (!document.querySelector('[data-saves]') || saving) return;
  const mine = ++turn;
  try {
    const answer = await fetch(location.href, {headers: {'x-swap': 'sheet', accept: 'text/html'}});
    const html = await answer.text();
    if (answer.ok && mine === turn) swap(html, {follows: true, told: ''});
  } catch { /* saving says so */ }
}
document.addEventListener('visibilitychange', () => { if (!document.hidden) look(); });

// At the Trial: what is entered here or on another device shows at once, and nothing being typed is lost.
const PARTS = '[id][data-part]';  // what is exchanged by itself; the lines of a circuit say of which part they are, and have no name
let asking, soon, heard;
const now = () => document.getElementById('now');
const edited = (part) => [...part.querySelectorAll('input:not([type=hidden]), textarea')].some((one) => (
  one.type === 'checkbox' ? one.checked !== one.defaultChecked : !one.readOnly && one.value !== one.defaultValue));

let askedAt = 0;  // when it was asked about a reading
function swapNow(html, sent) {
  const next = new DOMParser().parseFromString(html, 'text/html').getElementById('now');
  if (!next || !now()) return false;
  const before = now().dataset.last;
  const typed = typedBeside(sent, now());
  put(now(), next);
  document.getElementById('heard').textContent = next.querySelector('h1').textContent;
  const odd = next.querySelector('[aria-invalid]') || next.dataset.asks !== undefined;
  const field = next.querySelector('[data-focus]');
  field?.focus({preventScroll: true});
  if (odd) field?.select();  // typed over by the next figure, kept by Enter
  if (next.dataset.asks !== undefined) askedAt = performance.now();
  bringAlong(typed);
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

// The rail stays where it was scrolled to, and what it says comes next stands until it is known anew.
function putRail(old, next) {
  if (old.contains(document.activeElement)) return;  // at the next news
  const along = old.querySelector('.track').scrollLeft;
  if (next.querySelector('[data-waits]')) next.querySelector('.then').replaceWith(old.querySelector('.then'));
  old.replaceWith(document.adoptNode(next));
  next.querySelector('.track').scrollTo({left: along, behavior: 'instant'});
}

function refreshSoon() {
  clearTimeout(soon);
  soon = setTimeout(refresh, 250);
}

async function refresh() {
  if (!document.querySelector(PARTS) || underway) return;  // the answer under way asks again itself
  asking?.abort();
  asking = new AbortController();
  const mine = turn;
  try {
    const answer = await fetch(location.href, {headers: {'x-swap': 'sheet', accept: 'text/html'}, signal: asking.signal});
    if (!answer.ok) return;
    const html = await answer.text();
    if (mine !== turn) return;  // something was sent meanwhile: its own answer is newer
    const page = new DOMParser().parseFromString(html, 'text/html');
    if (document.getElementById('begin') && page.getElementById('now')) return void swap(html, {follows: true, told: ''});  // begun elsewhere
    for (const next of page.querySelectorAll(`${PARTS}, .rail`)) {
      const old = next.id ? document.getElementById(next.id) : document.querySelector('.rail');
      if (!old) continue;
      if (next.id === 'now') updateNow(old, next);
      else if (!next.id) putRail(old, next);
      else if (!edited(old) && !(old.contains(document.activeElement) && document.activeElement.matches('input, textarea, select'))) {
        const was = old.contains(document.activeElement) && document.activeElement.id;
        put(old, next);
        if (was) document.getElementById(was)?.focus({preventScroll: true});
      }
    }
    renewNext(page.getElementById('next'));
    if (document.querySelector('[data-late]')) refreshSoon();  // machine by machine
  } catch (trouble) {
    if (trouble.name !== 'AbortError') console.warn(trouble);
  }
}

document.addEventListener('sent', () => { asking?.abort(); refreshSoon(); });  // what was asked for before is older

function updateNow(old, next) {
  if (old.dataset.ahead !== undefined) return;  // the phone is ahead of what has come in
  if (old.dataset.last === next.dataset.last && old.dataset.open === next.dataset.open && old.querySelector('h1').textContent === next.querySelector('h1').textContent) return;
  if (edited(old) || old.dataset.asks !== undefined || old.querySelector('[aria-invalid]')) {
    if (old.querySelector('h1').textContent === next.querySelector('h1').textContent) return;
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
  if (heard?.trial === trial) return showHeard();  // what was heard before the page that shows it had come
  heard?.source.close();
  heard = trial && {trial, source: new EventSource(from)};
  heard?.source.addEventListener('changed', refreshSoon);
  heard?.source.addEventListener('heard', (event) => {
    heard.last = JSON.parse(event.data);
    showHeard();
  });
}
function showHeard() {
  const [line, lines] = ['heard-line', 'heard-lines'].map((id) => document.getElementById(id));
  if (!line || !heard?.last) return;
  line.textContent = heard.last.state;
  lines.hidden = !heard.last.lines.length;
  lines.tBodies[0].replaceChildren(...heard.last.lines.map((one) => {
    const row = document.createElement('tr');
    row.insertCell().append(Object.assign(document.createElement('code'), {textContent: one.line}));
    row.insertCell().textContent = `${one.reads ? '✓' : '–'} ${one.said}`;
    return row;
  }));
}
addEventListener('pagehide', () => { heard?.source.close(); heard = undefined; });
addEventListener('pageshow', (event) => { if (event.persisted) { listen(); refreshSoon(); look(); } });

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

// The keypad types where the hand was last: the reading, or beside it the way from trip to index.
let hand = 'f-deviation';
const keyed = () => document.getElementById(hand) ?? document.getElementById('f-deviation');
document.addEventListener('focusin', (event) => { if (event.target.matches('[data-keyed]')) hand = event.target.id; });

// Accept on the reading goes on to the way from trip to index while that is empty; Accept there keeps both.
function beside(form) {
  const way = form.elements.to_index;
  if (!way || way.value.trim() || hand !== 'f-deviation' || form.elements.sure || !form.elements.deviation.value.trim()) return false;
  way.focus();
  hand = way.id;
  say('Now the way from trip to index; accept once more without one where it is not shown.');
  return true;
}

// A question is not answered by an Enter that was on its way before it could be read.
const READ_MS = 500;
const unread = ({elements: {sure, deviation}}) => sure?.value === deviation.value && performance.now() - askedAt < READ_MS;

function fit() {
  const keypad = document.querySelector('.keypad');
  if (!keypad) return;
  keypad.hidden = !on('keypad');
  for (const field of document.querySelectorAll('[data-keyed]')) field.inputMode = on('keypad') && coarse ? 'none' : 'decimal';
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
  if (event.target.closest('[data-close]')) {
    event.target.closest('.told').remove();
    return;
  }
  const copied = document.getElementById(event.target.dataset?.copy);
  if (copied) {
    navigator.clipboard.writeText(copied.value).then(() => { event.target.textContent = 'Copied'; }, () => { copied.select(); });
    return;
  }
  const key = event.target.closest('[data-key]')?.dataset.key;
  if (!key) return;
  const field = keyed();
  const typed = {sign: '±', back: 'Backspace'}[key] ?? key;
  if (typedOn) { typedOn.keys.push(typed); return; }
  const all = field.selectionStart === 0 && field.selectionEnd === field.value.length;
  if (all && typed === key) field.value = '';
  typeInto(field, typed);
});

function ready(along) {
  const track = document.querySelector('.track');
  const here = track?.querySelector('.here');
  if (here) track.scrollTo({left: along ?? here.offsetLeft - (track.clientWidth - here.clientWidth) / 2, behavior: 'instant'});
  for (const button of document.querySelectorAll('[data-copy], [data-close], .find')) button.hidden = false;
  const finds = document.querySelector('[data-filters]');
  if (finds?.value) filter(document.getElementById(finds.dataset.filters), finds.value);
  fit();
  listen();
  step();
  if (document.querySelector('[data-late]')) refreshSoon();
}

document.addEventListener('submit', (event) => {
  const form = event.target;
  if (form.matches('[data-saves]') && !event.submitter?.hasAttribute('formaction')) {
    event.preventDefault();
    keepWhole(form, event.submitter);
  } else if (form.matches('[data-swap]')) {
    event.preventDefault();
    if (form.matches('#entry') && typedOn) { typedOn.keys.push('Enter'); return; }
    if (form.matches('#entry') && (unread(form) || beside(form))) return;
    hand = 'f-deviation';
    const waits = new CustomEvent('sending', {bubbles: true, cancelable: true, detail: event.submitter});  // a phone lets it wait its turn
    if (form.dispatchEvent(waits)) send(form, event.submitter);
  } else if (saving) {
    event.preventDefault();
    saving.then(() => { if (!leaving.size) form.requestSubmit(event.submitter); });
  }
});

document.addEventListener('change', (event) => {
  const {form} = event.target;
  if (!event.target.matches(FIELDS)) return;
  if (form?.matches('[data-saves]')) {
    if (changed(event.target)) left([event.target]);
    else leaving.delete(event.target);
  } else if (form?.matches('[data-live]')) send(form);
});
document.addEventListener('focusout', (event) => {
  const control = event.target;
  if (savesItself(control) && control.matches('input') && asKept.get(control) === worth(control)) control.value = stood(control);
});

// What is typed is answered as one types, before it is kept: all but the fields is exchanged.
let typing;
document.addEventListener('input', (event) => {
  const {form, id} = event.target;
  if (event.target.matches(ENTRY)) keepUnsent();
  if (fates.delete(id)) showFate(event.target, '');
  if (form?.matches('[data-typed]')) typedSoon(form);
});
function typedSoon(form) {
  clearTimeout(typing);
  typing = setTimeout(() => form.isConnected && showTyped(form), 250);
}
async function showTyped(form) {
  if (saving) return;  // its answer comes first
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

// A figure is found by a word of its name or meaning, in whatever group it stands.
document.addEventListener('input', (event) => {
  const within = document.getElementById(event.target.dataset?.filters);
  if (within) filter(within, event.target.value);
});
function filter(within, text) {
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  let found = 0;
  for (const group of within.querySelectorAll('.group')) {
    const title = group.querySelector('summary').textContent.toLowerCase();
    let shown = 0;
    for (const field of group.querySelectorAll('.field')) {
      const fits = words.every((word) => `${title} ${field.textContent.toLowerCase()}`.includes(word));
      field.hidden = !fits;
      shown += fits;
    }
    group.hidden = !shown;
    if (words.length) group.open = shown > 0;
    found += shown;
  }
  document.getElementById('found-figures').textContent = words.length ? `${found} figure${found === 1 ? '' : 's'}` : '';
}

// A link to a field opens what it is folded into, and puts the hand there.
function goTo(hash) {
  const field = document.getElementById(decodeURIComponent(hash.slice(1)));
  if (!field?.matches(FIELDS)) return false;
  for (let part = field.closest('details'); part; part = part.parentElement.closest('details')) part.open = true;
  field.focus();
  return true;
}
document.addEventListener('click', (event) => {
  const hash = event.target.closest?.('a[href^="#f-"]')?.hash;
  if (hash && goTo(hash)) event.preventDefault();
});

// The next step comes once the page is there; until then the one before stands, marked as being worked out.
let before, stepping;
const RESTS_MS = 2000;
let renewing;
function renewNext(next) {
  clearTimeout(renewing);
  const old = document.getElementById('next');
  if (!next || !old) return;
  const renew = () => {
    if (!old.isConnected || old.contains(document.activeElement)) return;
    old.replaceWith(document.adoptNode(next));
    stepping = undefined;
    step();
  };
  if (next.dataset.next) renewing = setTimeout(renew, RESTS_MS);  // once nothing is typed for a while: it takes its time
  else renew();
}
async function step() {
  const part = document.getElementById('next');
  if (!part?.dataset.next) { before = part?.innerHTML; return; }
  const from = part.dataset.next;
  if (before) part.innerHTML = before;
  if (stepping === from + turn) return;
  stepping = from + turn;
  try {
    const answer = await fetch(from);
    if (!answer.ok) return;
    const next = new DOMParser().parseFromString(await answer.text(), 'text/html').getElementById('next');
    const now = document.getElementById('next');
    if (!next || now?.dataset.next !== from) return;
    now.replaceWith(document.adoptNode(next));
    before = next.innerHTML;
    const [then, link] = [document.getElementById('then'), next.querySelector('.what a')];
    if (!then || !link) return;  // without one its room stays empty, and nothing moves
    delete then.dataset.waits;
    Object.assign(then.querySelector('a'), {href: link.href, textContent: next.dataset.station.replace(/^./, (letter) => letter.toUpperCase())});
  } catch { /* the page is there without it */ }
}

ready();
unsentAgain();
if (!goTo(location.hash) && matchMedia('(pointer: fine)').matches) document.querySelector('[data-focus]')?.focus({preventScroll: true});
