// Forms work without this script. With it they update the sheet in place, and charts come alive.
const own = document.querySelector('script[data-vega]');
const sheet = () => document.getElementById('sheet');
const live = new Map();
let turn = 0;

const say = (text) => { document.getElementById('said').textContent = text; };

async function send(form, button) {
  const mine = ++turn;
  const data = new FormData(form, button);
  const body = form.enctype === 'multipart/form-data' ? data : new URLSearchParams(data);
  const to = button?.getAttribute('formaction') ?? form.getAttribute('action');
  const headers = {'x-swap': 'sheet', accept: 'text/html'};
  const asks = form.method === 'get';
  const field = form.querySelector('[data-focus]');
  if (field) field.readOnly = true;  // nothing typed now could be taken for the reading on its way
  try {
    const answer = await fetch(asks ? `${to}?${body}` : to, asks ? {headers} : {method: 'POST', headers, body});
    const html = await answer.text();
    if (mine !== turn) return;
    say('');
    if (!swap(html)) say(`Not done: ${answer.status} ${html.slice(0, 200)}`);
    else if (asks || answer.redirected) history.replaceState(null, '', answer.url);
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
  for (const view of live.values()) view?.finalize();
  live.clear();
  sheet().replaceWith(document.adoptNode(next));
  document.title = next.querySelector('template').innerHTML;
  document.getElementById('heard').textContent = next.querySelector('h1').textContent;
  for (const id of opened) document.getElementById(id)?.setAttribute('open', '');
  const same = was.id && document.getElementById(was.id);
  const stays = was.matches('select, summary, .units button') && same;
  const wanted = next.querySelector('[aria-invalid]') || stays || next.querySelector('[data-focus]') || same;
  wanted?.focus({preventScroll: wanted === same});
  if (wanted && wanted === same && start != null) wanted.setSelectionRange(start, end);
  ready(along);
  return true;
}

function ready(along) {
  const track = document.querySelector('.track');
  const here = track?.querySelector('.here');
  if (here) track.scrollLeft = along ?? here.offsetLeft - (track.clientWidth - here.clientWidth) / 2;
  for (const button of document.querySelectorAll('[data-sign]')) button.hidden = false;
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

document.addEventListener('click', (event) => {
  const field = document.getElementById(event.target.dataset?.sign);
  if (!field) return;
  field.value = /^\s*[-−]/.test(field.value) ? field.value.replace(/[-−]/, '') : `-${field.value.trim()}`;
  field.focus();
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
for (const sign of ['pointerover', 'touchstart']) {
  document.addEventListener(sign, (event) => {
    const figure = event.target.closest?.('figure[data-live-chart]');
    if (figure) awaken(figure);
  }, {passive: true});
}

ready();
if (matchMedia('(pointer: fine)').matches) document.querySelector('[data-focus]')?.focus({preventScroll: true});
