// A long run: the count as it goes; when it ends the page says so at once, and loudly where the browser lets it.
let run;
async function follow() {
  const part = document.querySelector('[data-run]');
  if (!part) { run = undefined; return; }
  try {
    const state = await (await fetch(part.dataset.run)).json();
    const headline = document.getElementById('run-headline');
    if (state.headline && headline.textContent !== state.headline) headline.textContent = state.headline;
    const notice = document.getElementById('run-notice');
    if (notice && notice.textContent !== state.notice) notice.textContent = state.notice;
    const lines = document.getElementById('run-lines');
    lines.hidden = !state.lines.length;
    lines.tBodies[0].replaceChildren(...state.lines.map(({line, reads, said}) => {
      const row = document.createElement('tr');
      row.insertCell().append(Object.assign(document.createElement('code'), {textContent: line}));
      row.insertCell().textContent = `${reads ? '✓' : '–'} ${said}`;
      return row;
    }));
    if (state.on) run = true;
    else if (run) {
      if (state.end) sound();
      setTimeout(() => location.reload(), state.end ? 700 : 0);
      return;
    }
  } catch { document.getElementById('run-notice')?.replaceChildren('holdzero does not answer. Is it still running? Stop the machine.'); }
  setTimeout(follow, 400);
}

function sound() {
  try {
    const sounds = new AudioContext();
    const [tone, loud] = [sounds.createOscillator(), sounds.createGain()];
    tone.frequency.value = 220;
    loud.gain.setValueAtTime(0.4, 0);
    loud.gain.exponentialRampToValueAtTime(0.001, 0.6);
    tone.connect(loud).connect(sounds.destination);
    tone.start();
    tone.stop(0.6);
  } catch { /* no sound here */ }
}
follow();
new MutationObserver(() => { if (!run && document.querySelector('[data-run]:not([data-followed])')) { document.querySelector('[data-run]').dataset.followed = ''; follow(); } }).observe(document.body, {childList: true, subtree: true});
