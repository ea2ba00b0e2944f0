// Forms work without this script. With it they update the sheet in place, and charts come alive.
const sheet = () => document.getElementById('sheet');
const live = new Map();
const own = document.querySelector('script[data-vega]');
let turn = 0;

function say(text) {
  document.getElementById('said').textContent = text;
}

async function send(form, button) {
  const mine = ++turn;
  const body = new FormData(form, button);
  const file = form.enctype === 'multipart/form-data';
  try {
    const headers = {'x-swap': 'sheet', accept: 'text/html'};
    const sent = file ? body : new URLSearchParams(body);
    const to = button?.getAttribute('formaction') ?? form.getAttribute('action');
    const asks = form.method === 'get';
    const answer = await fetch(asks ? `${to}?${sent}` : to, asks ? {headers} : {method: 'POST', headers, body: sent});
    const html = await answer.text();
    if (mine !== turn) return;
    say('');
    swap(html);
    if (asks || answer.redirected) history.replaceState(null, '', answer.url);
  } catch {
    say('Not saved: holdzero does not answer. Is it still running?');
  }
}

function swap(html) {
  const fresh = new DOMParser().parseFromString(html, 'text/html');
  const next = fresh.getElementById('sheet');
  if (!next) return location.reload();
  const at = document.activeElement;
  const [id, start, end] = [at?.id, at?.selectionStart, at?.selectionEnd];
  for (const view of live.values()) view?.finalize();
  live.clear();
  const opened = new Set([...sheet().querySelectorAll('details[open][id]')].map((one) => one.id));
  const railX = document.querySelector('.rail')?.scrollLeft;
  sheet().replaceWith(document.adoptNode(next));
  for (const one of next.querySelectorAll('details[id]')) if (opened.has(one.id)) one.open = true;
  document.title = next.querySelector('template')?.innerHTML ?? fresh.title;
  const wanted = next.querySelector('[aria-invalid]') ?? next.querySelector('[data-focus]') ?? (id && document.getElementById(id));
  wanted?.focus({preventScroll: Boolean(id)});
  if (wanted?.id === id && start != null) try { wanted.setSelectionRange(start, end); } catch { /* not a text field */ }
  ready(railX);
}

document.addEventListener('submit', (event) => {
  if (!event.target.matches('[data-swap]')) return;
  event.preventDefault();
  send(event.target, event.submitter);
});

document.addEventListener('click', (event) => {
  const field = document.getElementById(event.target.dataset?.sign);
  if (!field) return;
  field.value = /^\s*[-−]/.test(field.value) ? field.value.replace(/[-−]/, '') : `-${field.value.trim()}`;
  field.focus();
});

let later;
document.addEventListener('change', (event) => {
  const form = event.target.form;
  if (!form?.matches('[data-live]')) return;
  clearTimeout(later);
  later = setTimeout(() => form.isConnected && form.requestSubmit(), 60);
});

// The picture is on the page already; it is drawn again, live, when someone points at it.
let vega;
async function awaken(figure) {
  if (live.has(figure)) return;
  live.set(figure, null);
  const place = Object.assign(document.createElement('div'), {className: 'live'});
  try {
    await (vega ??= import(own.dataset.vega));
    figure.querySelector('.picture').append(place);
    const spec = JSON.parse(figure.querySelector('script').textContent);
    live.set(figure, await window.vegaEmbed(place, spec, {actions: false, renderer: 'svg', ast: true}));
    figure.classList.add('alive');
  } catch (trouble) {
    place.remove();  // the still picture stays
    console.error(trouble);
  }
}
for (const sign of ['pointerover', 'focusin', 'touchstart']) {
  document.addEventListener(sign, (event) => {
    const figure = event.target.closest?.('figure[data-live-chart]');
    if (figure) awaken(figure);
  }, {passive: true});
}

function ready(railX) {
  const rail = document.querySelector('.rail');
  const here = rail?.querySelector('.here');
  for (const button of document.querySelectorAll('[data-sign]')) button.hidden = false;
  if (here) rail.scrollLeft = railX ?? here.offsetLeft - rail.clientWidth / 2 + here.clientWidth / 2;
}

ready();
