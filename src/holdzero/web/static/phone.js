// At the machine: what is typed lies in this phone until the computer has it, and is sent once, in order.
// Plain http: nothing may be used here that a browser gives to secure pages only.
const KEY = 'holdzero unsent';
const AGAIN_MS = 2000;
const QUEUED = /\/(readings|install\/checks|watch\/entries)$/;
let memory = [], stored = true, sending = false, trouble = '';

function all() {
  try { memory = JSON.parse(localStorage.getItem(KEY) ?? '[]'); } catch { stored = false; }
  return memory;
}
function keep(entries) {
  memory = entries;
  try { localStorage.setItem(KEY, JSON.stringify(entries)); stored = true; } catch { stored = false; }
  show();
}
const change = (id, what) => keep(all().map((entry) => (entry.id === id ? {...entry, ...what} : entry)));
const drop = (id) => keep(all().filter((entry) => entry.id !== id));
const part = () => document.getElementById('coming');
const own = () => all().filter((entry) => entry.book === part()?.dataset.book);
const ticket = () => [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
const buzz = (pattern) => { try { navigator.vibrate?.(pattern); } catch { /* it has none */ } };
const words = (text) => { document.getElementById('heard').textContent = text; };

// The pairing code stands behind the # so that it is in no log; it is out of the address before anything is sent.
const pairing = document.getElementById('pair');
if (pairing && location.hash.length > 1) {
  pairing.elements.code.value = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, '', location.pathname);
  pairing.submit();
}

// What is typed goes into the row of what waits, and the next reading is asked for at once.
document.addEventListener('sending', (event) => {
  const form = event.target;
  const action = form.getAttribute('action');
  if (!QUEUED.test(action)) return;
  event.preventDefault();
  const data = new FormData(form, event.detail);
  const id = ticket();
  data.set('ticket', id);
  const again = form.elements.repeat?.type === 'checkbox' && form.elements.repeat.checked;
  const entry = {id, book: part().dataset.book, action, at: '', body: `${new URLSearchParams(data)}`, typed: Date.now(), text: described(form, data), asks: '', wrong: ''};
  if (form.id === 'entry' && !again) entry.at = place(form);
  if (form.id === 'entry') {
    form.elements.deviation.value = '';
    if (form.elements.to_index) form.elements.to_index.value = '';
    if (again) form.elements.repeat.checked = false;
  } else for (const field of form.querySelectorAll('input:not([type=hidden])')) if (field.name !== 'by') field.value = '';
  keep([...all(), entry]);
  buzz(30);
  words(stored ? `${entry.text}: lies in this phone.` : 'This phone keeps nothing: leave the page open until it is sent.');
  flush();
});

function described(form, data) {
  if (form.id === 'entry') return `${data.get('deviation')}, ${form.querySelector('label').textContent.trim()}`;
  if (form.id === 'check-entry') return `Check homing: ${[...data].filter(([name, text]) => text && name !== 'ticket').map(([, text]) => text).join(', ')}`;
  return `${form.closest('li')?.querySelector('summary b')?.textContent.trim() ?? 'Test'}: ${data.get('outcome')}`;
}

const list = () => { try { return JSON.parse(part()?.dataset.coming || '[]'); } catch { return []; } };
function place(form) {
  const names = ['sensor', 'axis', 'sides', 'set', 'side', 'homing'];
  const same = (step) => names.every((name) => step.fields[name] === form.elements[name].value) && step.again === (form.elements.again !== undefined);
  return form.dataset.at ?? list().find(same)?.at ?? '';
}

// Ahead of what has come in: the first reading that is not waiting yet.
function ahead() {
  const now = document.getElementById('now');
  const form = document.getElementById('entry');
  if (!now || !form) return;
  const waiting = own().filter((entry) => entry.action === form.getAttribute('action') && entry.at);
  if (!waiting.length) {
    if (now.dataset.ahead !== undefined) { delete now.dataset.ahead; document.dispatchEvent(new Event('sent')); }
    return;
  }
  const taken = new Set(waiting.map((entry) => entry.at));
  const steps = list();
  const next = steps[steps.findLastIndex((step) => taken.has(step.at)) + 1];
  now.dataset.ahead = '';
  form.hidden = !next;
  now.querySelector('h1').textContent = next ? next.says : 'Wait for the connection: what comes next is not known here';
  if (!next) return;
  form.dataset.at = next.at;
  form.querySelector('label').textContent = next.side ? `${next.place}, ${next.side}` : next.place;
  for (const [name, text] of Object.entries(next.fields)) form.elements[name].value = text;
  for (const name of ['again', 'repeat']) form.querySelector(`input[type=hidden][name=${name}]`)?.remove();
  if (next.again) for (const name of ['again', 'repeat']) form.append(Object.assign(document.createElement('input'), {type: 'hidden', name, value: 'yes'}));
}

function show() {
  ahead();
  const box = document.getElementById('unsent');
  if (!box) return;
  const entries = own(), others = all().length - entries.length;
  box.hidden = !entries.length && !others;
  if (box.contains(document.activeElement) && document.activeElement.matches('input')) return;
  box.replaceChildren();
  const line = (text) => box.append(Object.assign(document.createElement('p'), {textContent: text}));
  if (entries.length) line(`${entries.length} not sent yet. ${trouble || (next() ? 'On the way.' : 'What is asked below waits for you.')}`);
  if (others) line(`${others} of another book wait in this phone; they go when that book is open here.`);
  const rows = document.createElement('ul');
  for (const entry of entries) rows.append(row(entry));
  box.append(rows);
}

function row(entry) {
  const item = document.createElement('li');
  const text = document.createElement('p');
  text.textContent = entry.text;
  item.append(text);
  if (!entry.asks && !entry.wrong) return item;
  item.setAttribute('role', 'alert');
  text.textContent = `${entry.text}. ${entry.asks ? `Is that right? ${entry.asks}` : entry.wrong}`;
  const sent = new URLSearchParams(entry.body);
  const figure = sent.has('deviation') && Object.assign(document.createElement('input'), {value: sent.get('deviation'), inputMode: 'text', ariaLabel: 'Reading'});
  const buttons = document.createElement('p');
  buttons.className = 'row';
  if (figure) item.append(figure);
  buttons.append(button('Keep it', () => {
    if (figure && figure.value.trim() === sent.get('deviation')) sent.set('sure', sent.get('deviation'));
    else if (figure) sent.set('deviation', figure.value.trim());
    document.activeElement.blur();
    const now = figure ? `${figure.value.trim()}${entry.text.slice(entry.text.indexOf(', '))}` : entry.text;
    change(entry.id, {body: `${sent}`, asks: '', wrong: '', text: now});
    flush();
  }), button('Discard it', () => { document.activeElement.blur(); drop(entry.id); flush(); }));
  item.append(buttons);
  return item;
}
function button(text, act) {
  const made = Object.assign(document.createElement('button'), {type: 'button', textContent: text});
  made.addEventListener('click', act);
  return made;
}

// One after the other; what is asked about holds up what was typed after it for the same place, and nothing else.
async function flush() {
  if (sending) return;
  sending = true;
  try {
    for (let entry = next(); entry; entry = next()) {
      const body = new URLSearchParams(entry.body);
      body.set('age_s', String(Math.max(0, Math.round((Date.now() - entry.typed) / 1000))));
      const answer = await fetch(entry.action, {method: 'POST', headers: {accept: 'application/json'}, body});
      if (answer.status === 403 || answer.status === 421) { trouble = 'This phone is not let in any more: pair it again at the computer. They wait here.'; break; }
      const says = await answer.json();
      if (answer.status >= 500) { trouble = says.wrong; break; }
      trouble = '';
      if (says.kept) { drop(entry.id); document.dispatchEvent(new Event('sent')); } else {
        change(entry.id, {asks: says.asks ?? '', wrong: says.wrong ?? ''});
        buzz([80, 60, 80]);
      }
    }
  } catch {
    trouble = 'No connection: they are sent by themselves when it is back.';
  } finally {
    sending = false;
    show();
  }
}
function next() {
  const held = new Set();
  for (const entry of own()) {
    if (entry.asks || entry.wrong) held.add(entry.action);
    else if (!held.has(entry.action)) return entry;
  }
  return undefined;
}
setInterval(() => { if (next()) flush(); }, AGAIN_MS);
addEventListener('online', flush);
addEventListener('storage', show);
addEventListener('beforeunload', (event) => { if (own().length) event.preventDefault(); });
document.addEventListener('visibilitychange', () => { if (!document.hidden) flush(); });

// All is on one page: a tab needs no connection.
document.addEventListener('click', (event) => {
  const tab = event.target.closest('[data-tab]');
  if (!tab) return;
  event.preventDefault();
  document.body.dataset.shows = tab.dataset.tab;
  scrollTo(0, 0);
});
new MutationObserver(() => {  // the page was exchanged: what waits is shown on the new one
  if (!own().length) return;
  if (document.getElementById('unsent')?.hidden) show();
  else if (document.getElementById('now')?.dataset.ahead === undefined) ahead();
}).observe(document.body, {childList: true, subtree: true});
show();
flush();
