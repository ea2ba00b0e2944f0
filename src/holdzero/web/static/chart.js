// Charts answer when pointed at: the nearest mark says its figure. Dragging a box looks closer, Escape shows all again.
// By keyboard: arrows go from mark to mark, plus and minus look closer and step back. Without this script the
// picture stands as it is, and each mark's own title says its figure.
const [NEAR_PX, DRAG_PX, CLOSEST] = [48, 6, 40];
const INSIDE_PX = 5;  // a dot on a line or in a column goes before the line
const views = new WeakMap();  // of each svg
const live = 'figure[data-live-chart]';

class View {
  constructor(svg) {
    this.svg = svg;
    this.picture = svg.closest('.picture');
    const [x, y, width, height] = svg.getAttribute('viewBox').split(' ').map(Number);
    this.whole = {x, y, width, height};
    this.box = this.whole;
    this.marks = [...svg.querySelectorAll('circle, polyline, polygon, path')].flatMap(marksOf);
    // one stop a figure: a mark drawn of several parts is one, and its dot stands for it
    const stops = new Map();
    for (const mark of this.marks) if (!stops.has(mark.note) || mark.dot) stops.set(mark.note, mark);
    this.stops = [...stops.values()];
    this.lettering = [...svg.querySelectorAll('text')].map((text) => [text, text.getAttribute('font-size')]);
    this.dots = [...svg.querySelectorAll('circle')].map((dot) => [dot, dot.getAttribute('r')]);
    this.ring = draw(svg, 'circle', 'pointed');
    this.frame = draw(svg, 'rect', 'framed');
  }

  get times() { return this.whole.width / this.box.width; }

  place(event) {
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
  }

  nearest(at) {
    let [best, least] = [null, NEAR_PX / this.times];
    for (const mark of this.marks) {
      const away = mark.away(at) + (mark.dot ? 0 : INSIDE_PX / this.times);
      if (away < least) [best, least] = [mark, away];
    }
    return best;
  }

  show(mark, at = mark?.at) {
    this.current = mark;
    const out = readOut(this.picture);
    out.textContent = mark?.note ?? '';
    this.ring.style.display = mark ? '' : 'none';
    if (!mark) return;
    const [x, y] = mark.nearestTo(at);
    for (const [name, value] of Object.entries({cx: x, cy: y, r: 7 / this.times})) this.ring.setAttribute(name, value);
    const seen = new DOMPoint(x, y).matrixTransform(this.svg.getScreenCTM());
    const around = this.picture.getBoundingClientRect();
    const [left, top] = [seen.x - around.x - out.offsetWidth / 2, seen.y - around.y - out.offsetHeight - 14];
    out.style.left = `${Math.max(0, Math.min(left, around.width - out.offsetWidth))}px`;
    out.style.top = `${top < -12 ? top + out.offsetHeight + 28 : top}px`;
  }

  step(key) {
    const [first, second] = key === 'ArrowUp' || key === 'ArrowDown' ? [1, 0] : [0, 1];
    const order = this.stops.toSorted((a, b) => a.at[first] - b.at[first] || a.at[second] - b.at[second]);
    const last = order.length - 1;
    const here = order.findIndex((mark) => mark.note === this.current?.note);
    const back = key === 'ArrowLeft' || key === 'ArrowUp';
    const to = key === 'Home' ? 0 : key === 'End' ? last : here < 0 ? (back ? last : 0) : here + (back ? -1 : 1);
    const mark = order[Math.max(0, Math.min(last, to))];
    if (!mark) return;
    const {x, y, width, height} = this.box;
    const [mx, my] = mark.at;
    if (mx < x || mx > x + width || my < y || my > y + height) this.look({...this.box, x: mx - width / 2, y: my - height / 2});
    this.show(mark);
  }

  closer(times) {
    const {x, y, width, height} = this.box;
    const [mx, my] = this.current?.at ?? [x + width / 2, y + height / 2];
    const [w, h] = [width / times, height / times];
    this.look({x: mx - w / 2, y: my - h / 2, width: w, height: h});
    if (this.current) this.show(this.current);
  }

  // The box grows to the picture's own shape and stays within it; lettering, dots and lines keep their size.
  look(box) {
    const {whole} = this;
    const width = Math.min(whole.width, Math.max(box.width, box.height * whole.width / whole.height, whole.width / CLOSEST));
    const height = width * whole.height / whole.width;
    const within = (middle, size, from, room) => Math.max(from, Math.min(middle - size / 2, from + room - size));
    this.box = {
      x: within(box.x + box.width / 2, width, whole.x, whole.width),
      y: within(box.y + box.height / 2, height, whole.y, whole.height),
      width, height,
    };
    const {x, y} = this.box;
    this.svg.setAttribute('viewBox', `${x} ${y} ${width} ${height}`);
    for (const [text, size] of this.lettering) text.setAttribute('font-size', size / this.times);
    for (const [dot, radius] of this.dots) dot.setAttribute('r', radius / this.times);
    const closer = this.times > 1.001;
    this.svg.classList.toggle('closer', closer);
    this.picture.parentElement.querySelector('.whole').hidden = !closer;
  }
}

function draw(svg, tag, name) {
  const made = document.createElementNS(svg.namespaceURI, tag);
  made.setAttribute('class', name);
  made.style.display = 'none';
  return svg.appendChild(made);
}

const onSegment = ([ax, ay], [bx, by], {x, y}) => {
  const [dx, dy] = [bx - ax, by - ay];
  const share = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
  return [ax + share * dx, ay + share * dy];
};
const apart = ([px, py], {x, y}) => Math.hypot(px - x, py - y);

function mark(note, at, nearestTo, dot) {
  const reach = nearestTo ?? (() => at);
  const point = (from) => (Array.isArray(from) ? {x: from[0], y: from[1]} : from);
  return {note, at, dot, nearestTo: (from) => reach(point(from)), away: (from) => apart(reach(point(from)), point(from))};
}

// What an element of the picture has to say: its title, or a list of notes, one for each of its points.
function marksOf(part) {
  const title = part.querySelector('title');
  const notes = part.dataset.notes ? JSON.parse(part.dataset.notes) : null;
  const note = title?.textContent;
  title?.remove();  // said here from now on, not twice
  if (!note && !notes) return [];
  const number = (name) => Number(part.getAttribute(name));
  if (part.tagName === 'circle') return [mark(note, [number('cx'), number('cy')], null, true)];
  if (part.tagName === 'path') {
    const squares = [...part.getAttribute('d').matchAll(/M(\S+) (\S+?)h([\d.]+)/g)];
    return squares.map(([, x, y, side], i) => mark(notes[i], [Number(x) + side / 2, Number(y) + side / 2], null, true));
  }
  const points = part.getAttribute('points').split(' ').map((point) => point.split(',').map(Number));
  if (notes) return points.map((at, i) => mark(notes[i], at, null, true));
  const [xs, ys] = [0, 1].map((i) => points.map((point) => point[i]));
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  if (part.tagName === 'polygon') {
    const within = ({x, y}) => [Math.max(left, Math.min(x, right)), Math.max(top, Math.min(y, bottom))];
    return [mark(note, [(left + right) / 2, top], within)];
  }
  const along = (from) => points.slice(1).map((end, i) => onSegment(points[i], end, from))
    .reduce((best, at) => (apart(at, from) < apart(best, from) ? at : best));
  return [mark(note, [(left + right) / 2, (top + bottom) / 2], along)];
}

function readOut(picture) {
  return picture.querySelector('.read-out') ?? picture.appendChild(Object.assign(document.createElement('output'), {className: 'read-out'}));
}

const viewOf = (svg) => {
  if (!views.has(svg)) views.set(svg, new View(svg));
  return views.get(svg);
};
const pointedAt = (target) => {
  const svg = target.closest?.(`${live} .picture svg`);
  return svg && viewOf(svg);
};
const shown = (picture) => {
  const svg = [...picture.querySelectorAll('svg')].find((one) => one.getBoundingClientRect().width > 0);
  return svg && viewOf(svg);
};

function ready() {
  for (const figure of document.querySelectorAll(`${live}:not([data-ready])`)) {
    figure.dataset.ready = '';
    const picture = figure.querySelector('.picture');
    picture.tabIndex = 0;
    picture.setAttribute('role', 'group');
    picture.setAttribute('aria-label', 'Arrow keys read the figures of this picture; plus and minus look closer, Escape shows all');
    const whole = Object.assign(document.createElement('button'), {type: 'button', className: 'plain whole', textContent: 'Show the whole picture', hidden: true});
    figure.querySelector('figcaption').append(' ', whole);
  }
}

function showAll(within = document) {
  for (const svg of within.querySelectorAll(`${live} svg`)) {
    const view = views.get(svg);
    if (!view) continue;
    view.look(view.whole);
    view.show(null);
  }
}

let drag;
document.addEventListener('pointerdown', (event) => {
  const view = pointedAt(event.target);
  if (!view) return;
  if (event.pointerType === 'touch') view.show(view.nearest(view.place(event)), view.place(event));
  else if (event.button === 0) drag = {view, from: view.place(event), x: event.clientX, y: event.clientY, at: null};
});
document.addEventListener('pointermove', (event) => {
  if (event.pointerType === 'touch') return;
  if (!drag) {
    const view = pointedAt(event.target);
    if (view) view.show(view.nearest(view.place(event)), view.place(event));
    return;
  }
  const {view, from} = drag;
  if (!drag.at && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < DRAG_PX) return;
  if (!drag.at) { view.show(null); getSelection().removeAllRanges(); }
  const to = drag.at = view.place(event);
  view.frame.style.display = '';
  const frame = {x: Math.min(from.x, to.x), y: Math.min(from.y, to.y), width: Math.abs(to.x - from.x), height: Math.abs(to.y - from.y)};
  for (const [name, value] of Object.entries(frame)) view.frame.setAttribute(name, value);
  drag.frame = frame;
});
const drop = (taken) => {
  if (!drag) return;
  drag.view.frame.style.display = 'none';
  if (taken && drag.frame) drag.view.look(drag.frame);
  drag = undefined;
};
document.addEventListener('pointerup', () => drop(true));
document.addEventListener('pointercancel', () => drop(false));
document.addEventListener('selectstart', (event) => { if (drag) event.preventDefault(); });
document.addEventListener('pointerout', (event) => {
  const view = event.pointerType === 'mouse' && !drag && pointedAt(event.target);
  if (view && !view.svg.contains(event.relatedTarget)) view.show(null);
});
document.addEventListener('dblclick', (event) => { if (pointedAt(event.target)) showAll(event.target.closest('figure')); });
document.addEventListener('click', (event) => {
  const whole = event.target.closest?.(`${live} .whole`);
  if (!whole) return;
  showAll(whole.closest('figure'));
  whole.closest('figure').querySelector('.picture').focus({preventScroll: true});
});
document.addEventListener('keydown', (event) => {
  if (event.key === 'Escape') { drop(false); showAll(); return; }
  if (event.ctrlKey || event.altKey || event.metaKey || !event.target.matches?.(`${live} .picture`)) return;
  const view = shown(event.target);
  if (!view) return;
  if (/^(Arrow|Home$|End$)/.test(event.key)) view.step(event.key);
  else if (event.key === '+' || event.key === '=') view.closer(2);
  else if (event.key === '-') view.closer(0.5);
  else return;
  event.preventDefault();
});
document.addEventListener('focusout', (event) => { if (event.target.matches?.(`${live} .picture`)) shown(event.target)?.show(null); });

ready();
new MutationObserver(ready).observe(document.body, {childList: true, subtree: true});
