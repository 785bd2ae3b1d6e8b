// What goes on in the lab, streamed to every page; a banner while it does not come
// through, and the state as it is when it does again.
import { $ } from './common.js';

const listeners = [];
let last = null, lost = 0;

// onLive calls back with what is going on, now and at every change.
export function onLive(f) { listeners.push(f); if (last) f(last); }

function banner(text) {
  const p = $('lost');
  if (p.hidden !== !text || p.textContent !== text) { p.hidden = !text; p.textContent = text; }
}

let stream, trying;
function open() {
  stream = new EventSource('/live');
  stream.onmessage = e => {
    last = JSON.parse(e.data);
    if (lost) { lost = 0; banner(''); dispatchEvent(new Event('swathe-back')); }
    for (const f of listeners) f(last);
  };
  stream.onerror = () => {
    lost ||= Date.now();
    // A page that is being left loses its stream too: a moment's patience.
    setTimeout(() => { if (lost) banner('The connection to swathe serve is lost. What you see may be out of date; this page catches up by itself when the program runs again.'); }, 700);
    if (stream.readyState === EventSource.CLOSED) { clearTimeout(trying); trying = setTimeout(open, 2000); }
  };
}
open();
addEventListener('pagehide', () => stream.close());
addEventListener('pageshow', e => { if (e.persisted) open(); });
