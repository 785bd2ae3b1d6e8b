// One place of the floor, on every plan and in every recording at once: the pointer over
// any of them leads it, or the arrow keys on a plan.
import { make, say } from './common.js';
import { floor, project } from './lens.js';

export function crosses(players) {
  const views = players.flatMap(p => {
    const { plan, camera } = p.run, out = [];
    const add = (box, svg, to, from) => {
      const mark = make('path', { class: 'cross', d: 'M-32 0H-8M8 0H32M0 -32V-8M0 8V32' });
      mark.style.display = 'none';
      svg.append(mark);
      out.push({ player: p, box, svg, mark, to, from });
    };
    add(p.svg.parentElement, p.svg, (x, y) => p.at(x, y), (u, v) => [(u - plan.x0) / plan.k, (plan.y0 - v) / plan.k]);
    if (camera && p.run.videos.length) {
      const svg = make('svg', { class: 'onto', 'aria-hidden': 'true', viewBox: `-0.5 -0.5 ${camera.width} ${camera.height}` });
      p.video.parentElement.append(svg);
      add(p.video.parentElement, svg, (x, y) => project(camera, x, y), (u, v) => floor(camera, u, v));
    }
    return out;
  });
  let at = null, keys = false;
  function show(place) {
    at = place;
    for (const v of views) {
      const on = at && v.to(...at);
      v.mark.style.display = on ? '' : 'none';
      if (on) v.mark.setAttribute('transform', `translate(${on[0].toFixed(1)} ${on[1].toFixed(1)})`);
    }
    for (const p of players) p.here.textContent = at ? `cross at ${at[0].toFixed(2)}, ${at[1].toFixed(2)} m` : '';
  }
  for (const v of views) {
    v.box.addEventListener('pointermove', e => {
      const q = new DOMPoint(e.clientX, e.clientY).matrixTransform(v.svg.getScreenCTM().inverse());
      keys = false;
      show(v.from(q.x, q.y) ?? null);
    });
    v.box.addEventListener('pointerleave', () => { if (!keys) show(null); });
    // A click takes no focus: the keys stay with the clock.
    v.box.addEventListener('mousedown', e => { if (v.box.tabIndex >= 0) e.preventDefault(); });
    v.box.addEventListener('keydown', e => {
      const step = e.shiftKey ? 0.5 : 0.05, by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[e.key];
      if (!by && !(e.key === 'Escape' && at)) return;
      e.preventDefault();
      keys = true;
      const { width, height } = v.player.run.plan;
      show(by ? (at ?? v.from(width / 2, height / 2)).map((c, i) => c + by[i]) : null);
      say(v.player.here.textContent);
    });
  }
}
