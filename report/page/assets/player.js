// Plays runs: the recording beside the plan, all on one clock. A recording that
// the browser cannot play is shown as stills, taken from it one by one; so is the
// place that a reader goes to in one that it can, until the browser is there too:
// it decodes all since the last key frame in full, which takes longer.
import { clock, dark, make } from './common.js';
import { Swept } from './swept.js';

const tailSeconds = 20;
// A still that takes longer than this, ms, has one of the key frame before it.
const longStill = 250;
// How long after the last click the browser goes to its place, ms.
const followAfter = 600;

// Player shows one run at any time of its recording.
export class Player {
  constructor(root) {
    this.root = root;
    this.run = JSON.parse(root.dataset.player);
    this.video = root.querySelector('video');
    this.still = root.querySelector('.still');
    this.img = root.querySelector('.plan img');
    this.svg = root.querySelector('.plan svg');
    this.readout = root.querySelector('.readout');
    this.here = root.querySelector('.here');
    this.offsets = [0]; // of each part, s; known once its video tells its length
    this.part = 0;
    this.stills = false;  // the browser cannot play it
    this.eye = false;     // stills can be had
    this.start = this.run.start_s ?? 0;
    this.end = this.run.end_s ?? this.run.length_s ?? 1;
    this.length = Math.max(this.run.length_s ?? 0, this.end, 1);
    this.plan(this.run.plan);
    if (this.run.videos.length === 0) {
      this.video.hidden = true;
      root.querySelector('.noscreen').hidden = false;
    } else {
      this.video.addEventListener('error', () => this.useStills());
      this.video.addEventListener('loadedmetadata', () => {
        if (this.video.videoWidth === 0) this.useStills();
        else if (this.pending !== undefined) { this.video.currentTime = this.pending; this.pending = undefined; }
      });
      this.video.addEventListener('seeked', () => {
        if (!this.stills && !this.still.hidden && Math.abs(this.video.currentTime - this.t) < 0.05) this.uncover();
      });
      if (this.run.videos.length > 1) this.useStills(); else this.video.src = this.address(this.run.videos[0]);
      // The eye opens the recording, if there is an eye.
      const first = new Image();
      first.onload = () => { this.eye = true; };
      first.src = this.stillOf(this.start);
    }
  }

  address(f) { return `/recordings/${f.split('/').map(encodeURIComponent).join('/')}`; }

  // plan sets the picture of the plan and what lies over it.
  plan(p) {
    const [layout, run] = this.run.id.split('/').map(encodeURIComponent);
    const scale = 1 / p.k;
    this.img.src = `/pictures/${layout}/${run}/passes?width=${p.width}&height=${p.height}&labels=none&theme=${dark() ? 'dark' : 'light'}&scale=${scale}`;
    this.img.width = p.width;
    this.img.height = p.height;
    this.svg.setAttribute('viewBox', `0 0 ${p.width} ${p.height}`);
    this.tail = make('polyline', { class: 'tail' });
    this.body = make('circle', { class: 'body', r: Math.max(4, this.run.radius_m * p.k) });
    this.nose = make('line', { class: 'body' });
    this.svg.replaceChildren(this.tail, this.body, this.nose);
    this.at = (x, y) => [p.x0 + p.k * x, p.y0 - p.k * y];
    this.swept = new Swept(this);
  }

  useStills() {
    if (this.stills) return;
    this.stills = true;
    this.video.hidden = true;
    this.still.hidden = false;
    this.seek(this.t ?? this.start);
  }

  // place returns where the robot is at t: x, y, heading or undefined.
  place(t) {
    const p = this.run.path;
    let lo = 0, hi = p.length - 1;
    if (hi < 0 || t < p[0][0]) return undefined;
    while (lo < hi) { const m = (lo + hi + 1) >> 1; if (p[m][0] <= t) lo = m; else hi = m - 1; }
    const a = p[lo], b = p[Math.min(lo + 1, p.length - 1)];
    if (a[1] === null || b[1] === null || b[0] <= a[0]) return a[1] === null ? undefined : { i: lo, x: a[1], y: a[2], h: a[3] };
    const f = Math.min(1, Math.max(0, (t - a[0]) / (b[0] - a[0])));
    return { i: lo, x: a[1] + f * (b[1] - a[1]), y: a[2] + f * (b[2] - a[2]), h: a[3] === null ? null : a[3] + f * ((b[3] ?? a[3]) - a[3]) };
  }

  // show draws the plan at time t.
  show(t) {
    this.t = t;
    this.swept.show(t);
    const here = this.place(t);
    this.body.style.display = this.nose.style.display = here ? '' : 'none';
    const points = [];
    if (here) {
      const [x, y] = this.at(here.x, here.y);
      this.body.setAttribute('cx', x);
      this.body.setAttribute('cy', y);
      if (here.h !== null) {
        const r = Math.max(6, this.run.radius_m * this.run.plan.k), a = here.h * Math.PI / 180;
        for (const [k, v] of Object.entries({ x1: x, y1: y, x2: x + r * Math.cos(a), y2: y - r * Math.sin(a) })) this.nose.setAttribute(k, v);
      }
      for (let i = here.i; i >= 0 && this.run.path[i][0] > t - tailSeconds; i--) {
        if (this.run.path[i][1] !== null) points.push(this.at(this.run.path[i][1], this.run.path[i][2]).map(v => v.toFixed(1)).join(','));
      }
    }
    this.tail.setAttribute('points', points.join(' '));
    this.readout.textContent = `${clock(t - this.start)} of the run, ${clock(t)} in the recording` + (here ? `, at ${here.x.toFixed(2)}, ${here.y.toFixed(2)} m` : ', place not known');
  }

  // seek shows time t, recording and plan.
  seek(t) {
    t = Math.min(Math.max(0, t), this.length);
    this.show(t);
    if (this.run.videos.length === 0) return;
    if (this.stills || this.eye && !this.playing) { this.take(t); return; }
    this.go(t);
  }

  // go has the browser show time t.
  go(t) {
    if (this.video.readyState < 1) { this.pending = t; return; }
    this.video.currentTime = t;
  }

  // uncover takes the still away once the browser has painted what lies below.
  uncover() {
    const off = () => { this.still.hidden = true; };
    if (this.video.requestVideoFrameCallback) { this.video.requestVideoFrameCallback(off); setTimeout(off, 250); } else off();
  }

  stillOf(t) { return `/frame?${this.run.videos.map(f => `file=${encodeURIComponent(f)}`).join('&')}&t=${t.toFixed(2)}&width=800`; }

  // ready fetches the still of time t ahead of a click that is likely.
  ready(t) { if (this.run.videos.length && (this.stills || this.eye)) new Image().src = this.stillOf(t); }

  // take shows the still of time t. One at a time: while one is on its way, only
  // the last asked for waits. Where that has taken long, the key frame before it
  // is shown first.
  async take(t) {
    clearTimeout(this.following);
    if (this.fetching) { this.wanted = t; return; }
    this.fetching = true;
    const put = (img, at) => {
      if (!this.stills && this.playing) return;
      this.still.src = img.src;
      this.still.dataset.t = at;
      this.still.hidden = false;
    };
    const fetched = async url => { const img = new Image(); img.src = url; await img.decode(); return img; };
    try {
      if (this.far && !this.playing) {
        put(await fetched(`${this.stillOf(t)}&key`), '');
        if (this.wanted === undefined) this.readout.textContent += '; loading the frame';
      }
      if (this.wanted === undefined) {
        const from = performance.now(), img = await fetched(this.stillOf(t));
        this.far = performance.now() - from > longStill;
        put(img, t);
        if (this.t === t) this.show(t);
      }
    } catch { this.eye = false; }
    this.fetching = false;
    if (this.wanted !== undefined) { const w = this.wanted; this.wanted = undefined; this.take(w); return; }
    // The browser follows once nobody clicks any more: it would be in the way of
    // the next still.
    if (!this.stills && !this.playing) this.following = setTimeout(() => { if (!this.playing && this.t === t) this.go(t); }, followAfter);
  }

  play(rate) {
    this.playing = true;
    if (this.run.videos.length === 0 || this.stills) return;
    if (Math.abs(this.video.currentTime - this.t) > 0.05) this.go(this.t);
    if (!this.still.hidden) this.uncover();
    this.video.playbackRate = rate;
    this.video.play().catch(e => { if (e.name === 'NotSupportedError') this.useStills(); });
  }

  pause() { this.playing = false; this.video.pause(); }
}

// Clock drives players: its time is that since each one's zero.
export class Clock {
  constructor(players, zero, from, to) {
    Object.assign(this, { players, zero, from, to });
    this.t = from;
    this.playing = false;
    this.seekBar = document.getElementById('seek');
    this.button = document.getElementById('play');
    this.out = document.getElementById('at');
    this.rate = document.getElementById('rate');
    this.seekBar.min = from;
    this.seekBar.max = to;
    this.seekBar.addEventListener('input', () => this.seek(Number(this.seekBar.value)));
    this.button.addEventListener('click', () => (this.playing ? this.pause() : this.play()));
    this.rate.addEventListener('change', () => { if (this.playing) { this.pause(); this.play(); } });
    this.seek(from);
    this.frame = Math.min(...players.map(p => p.run.frame_s || 0.04));
    addEventListener('keydown', e => this.key(e));
    // A click leaves no focus behind that would take the next Space.
    document.querySelector('main').addEventListener('click', e => { if (e.detail > 0) e.target.closest('.stage button, .leads button')?.blur(); });
  }

  // step is how far a key goes, s; undefined for one that goes nowhere.
  step(key, shift) { return { ArrowLeft: -1, ArrowRight: 1 }[key] * (shift ? 10 : 1) || { ',': -this.frame, '.': this.frame }[key]; }

  // key drives the clock wherever no field has the focus. Space is left to a button
  // that was reached by keys.
  key(e) {
    const on = what => e.target !== this.seekBar && e.target.closest?.(what);
    if (e.defaultPrevented || e.ctrlKey || e.metaKey || e.altKey || on('input, select, textarea, dialog, [contenteditable]') || e.key === ' ' && on('button, a, summary')) return;
    const by = this.step(e.key, e.shiftKey);
    if (e.key === ' ') { e.preventDefault(); if (this.playing) this.pause(); else this.play(); } else if (by && !(e.target === this.seekBar && !e.shiftKey && e.key.startsWith('Arrow'))) { e.preventDefault(); if (this.playing) this.pause(); this.seek(this.t + by); }
  }

  tell() {
    this.seekBar.value = this.t;
    this.seekBar.setAttribute('aria-valuetext', clock(this.t));
    this.out.textContent = `${clock(this.t)} of ${clock(this.to)}`;
  }

  seek(t) {
    this.t = Math.min(Math.max(t, this.from), this.to);
    for (const p of this.players) p.seek(this.t + this.zero(p));
    this.tell();
    if (this.playing) { this.last = undefined; }
  }

  play() {
    if (this.t >= this.to) this.seek(this.from);
    this.playing = true;
    this.last = undefined;
    this.button.textContent = 'Pause';
    this.button.setAttribute('aria-pressed', 'true');
    const rate = Number(this.rate.value);
    for (const p of this.players) p.play(rate);
    const step = now => {
      if (!this.playing) return;
      if (this.last !== undefined) this.t += rate * (now - this.last) / 1000;
      this.last = now;
      for (const p of this.players) {
        const t = this.t + this.zero(p);
        if (p.stills) p.seek(t);
        else {
          p.show(t);
          // A video that lags or runs ahead is set right.
          if (p.video.readyState >= 2 && !p.video.seeking && Math.abs(p.video.currentTime - t) > 0.3 + 0.15 * rate && t < (p.video.duration || 0)) p.video.currentTime = t;
        }
      }
      this.tell();
      if (this.t >= this.to) this.pause(); else requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  pause() {
    this.playing = false;
    this.button.textContent = 'Play';
    this.button.setAttribute('aria-pressed', 'false');
    for (const p of this.players) p.pause();
    this.seek(this.t);
  }
}
