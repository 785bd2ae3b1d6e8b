// The drawing board of the set-up: a picture or a plan, enlarged and moved, that
// is pointed at by mouse, finger or keys.
import { $ } from './common.js';
import { floor, pixelSize, project } from './lens.js';

export class Board {
  // state gives: camera (solved or undefined), image, size, view, shapes(),
  // marks(), found() corners, height() of what is being pointed at; point(p) is called with each
  // point that is set, hover() with each movement.
  constructor(state) {
    this.state = state;
    this.canvas = $('canvas');
    this.g = this.canvas.getContext('2d');
    this.zoom = 1;
    this.middle = null;   // what lies in the middle of the board
    this.cross = null;    // where the pointer or the keys are, board pixels
    this.keys = false;    // the cross was moved by keys
    const c = this.canvas;
    c.addEventListener('pointermove', e => { this.keys = false; this.cross = this.of(e); if (this.drag) this.moveDrag(); else { this.moveView(); this.draw(); } this.state.hover(); });
    c.addEventListener('pointerleave', () => { if (!this.keys) { this.cross = null; this.draw(); } });
    c.addEventListener('pointerdown', e => {
      if (e.button !== 0) return;
      this.cross = this.of(e);
      this.down = this.cross;
      this.drag = this.state.grab(this.at(this.cross));
      if (!this.drag) this.held = { from: this.down, middle: [...this.middle] };
      c.setPointerCapture(e.pointerId);
    });
    c.addEventListener('pointerup', e => {
      if (!this.down) return;
      this.cross = this.of(e);
      const moved = Math.hypot(this.cross[0] - this.down[0], this.cross[1] - this.down[1]) > 3;
      this.down = this.held = null;
      if (this.drag) { const d = this.drag; this.drag = null; this.state.drop(d, moved); } else if (!moved) this.state.point(this.at(this.cross));
      this.draw();
    });
    c.addEventListener('wheel', e => { e.preventDefault(); this.enlarge(e.deltaY < 0 ? 1.25 : 0.8, this.of(e)); }, { passive: false });
    c.addEventListener('keydown', e => this.key(e));
    new ResizeObserver(() => requestAnimationFrame(() => this.draw())).observe(c.parentElement);
  }

  of(e) { const b = this.canvas.getBoundingClientRect(); return [e.clientX - b.left, e.clientY - b.top]; }

  key(e) {
    const step = e.shiftKey ? 10 : e.altKey ? 0.1 : 1;
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (by) {
      e.preventDefault();
      if (!this.cross) this.cross = [this.width / 2, this.tall / 2];
      this.keys = true;
      this.cross = [this.cross[0] + by[0] * step, this.cross[1] + by[1] * step];
      this.keepInView();
      this.draw();
      this.state.hover(true);
    } else if (e.key === 'Enter' && (this.cross || this.state.drawing())) {
      e.preventDefault();
      // Enter sets a corner where the keys have led; where they have not moved since
      // the last one, and for a mouse, it finishes.
      const last = this.state.last(), at = last && this.ofFloor(last, this.state.height());
      const still = at && this.cross && Math.hypot(...this.on(at).map((v, i) => v - this.cross[i])) < 3;
      if (this.state.drawing() && (!this.keys || !this.cross || still)) this.state.finish(); else this.state.point(this.at(this.cross));
      this.draw();
    }
    else if (e.key === 'Backspace') { e.preventDefault(); this.state.undo(); }
    else if (e.key === '+' || e.key === '-') this.enlarge(e.key === '+' ? 1.25 : 0.8, this.cross);
  }

  // moveView pans by dragging what is not a mark or a corner.
  moveView() {
    if (!this.held || this.zoom === 1) return;
    const d = [0, 1].map(i => this.cross[i] - this.held.from[i]);
    if (Math.hypot(...d) <= 3) return;
    this.middle = [this.held.middle[0] - d[0] / this.scale, this.held.middle[1] - this.flip * d[1] / this.scale];
    this.clamp();
  }

  // keepInView moves the view along with a cross that the keys lead out of it.
  keepInView() {
    const size = [this.width, this.tall], rim = this.zoom > 1 ? 20 : 0;
    for (const i of [0, 1]) {
      const to = Math.min(Math.max(this.cross[i], rim), size[i] - rim), over = this.cross[i] - to;
      if (!over) continue;
      const before = this.middle[i];
      if (this.zoom > 1) { this.middle[i] += (i ? this.flip : 1) * over / this.scale; this.clamp(); }
      const moved = (this.middle[i] - before) * this.scale * (i ? this.flip : 1);
      this.cross[i] = Math.min(Math.max(this.cross[i] - moved, 0), size[i]);
    }
  }

  // clamp keeps the middle of the view on what is shown.
  clamp() {
    const b = this.bounds();
    for (const i of [0, 1]) this.middle[i] = Math.min(Math.max(this.middle[i], b[i]), b[i + 2]);
  }

  moveDrag() { this.state.move(this.drag, this.at(this.cross)); this.draw(); }

  // bounds of what is shown: pixels of the picture, or metres of the plan.
  bounds() {
    if (this.state.view === 'picture') { const [w, h] = this.state.size; return [-0.5, -0.5, w - 0.5, h - 0.5]; }
    const pts = this.state.shapes().flatMap(s => s.points).concat(this.state.marks().filter(m => m.floor).map(m => m.floor));
    const xs = pts.map(p => p[0]).filter(Number.isFinite), ys = pts.map(p => p[1]).filter(Number.isFinite);
    const b = xs.length ? [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)] : [0, 0, 5, 4];
    const pad = 0.1 * Math.max(b[2] - b[0], b[3] - b[1], 1);
    return [b[0] - pad, b[1] - pad, b[2] + pad, b[3] + pad];
  }

  layout() {
    const box = this.canvas.parentElement.clientWidth, r = devicePixelRatio || 1;
    const b = this.frozen && this.drag ? this.frozen : this.bounds();
    this.frozen = b;
    const tall = Math.round(Math.min(box * (b[3] - b[1]) / (b[2] - b[0]), innerHeight * 0.62));
    if (this.canvas.width !== Math.round(box * r) || this.canvas.height !== Math.round(tall * r)) {
      this.canvas.width = Math.round(box * r);
      this.canvas.height = Math.round(tall * r);
      this.canvas.style.height = `${tall}px`;
    }
    this.width = box;
    this.tall = tall;
    this.scale = Math.min(box / (b[2] - b[0]), tall / (b[3] - b[1])) * this.zoom;
    if (!this.middle || this.zoom === 1) this.middle = [(b[0] + b[2]) / 2, (b[1] + b[3]) / 2];
    this.flip = this.state.view === 'picture' ? 1 : -1;
  }

  // at returns what lies at a place of the board, on from where it lies there.
  at([x, y]) { return [this.middle[0] + (x - this.width / 2) / this.scale, this.middle[1] + this.flip * (y - this.tall / 2) / this.scale]; }
  on([u, v]) { return [this.width / 2 + (u - this.middle[0]) * this.scale, this.tall / 2 + this.flip * (v - this.middle[1]) * this.scale]; }

  enlarge(f, about) {
    const before = about ? this.at(about) : this.middle;
    this.zoom = Math.min(40, Math.max(1, this.zoom * f));
    this.layout();
    if (about && this.zoom > 1) {
      const after = this.at(about);
      this.middle = [this.middle[0] + before[0] - after[0], this.middle[1] + before[1] - after[1]];
    }
    this.draw();
  }

  // floorAt returns the floor point (at height z) for a point of the board.
  floorAt(p, z = 0) {
    if (this.state.view === 'plan') return p;
    return this.state.camera ? floor(this.state.camera, p[0], p[1], z) : undefined;
  }

  // ofFloor is the inverse.
  ofFloor(f, z = 0) {
    if (this.state.view === 'plan') return f;
    return this.state.camera ? project(this.state.camera, f[0], f[1], z) : undefined;
  }

  draw() {
    if (!this.canvas.parentElement.clientWidth) return;
    this.layout();
    const g = this.g, r = devicePixelRatio || 1;
    g.setTransform(r, 0, 0, r, 0, 0);
    g.clearRect(0, 0, this.width, this.tall);
    const ink = getComputedStyle(document.body).color;
    if (this.state.view === 'picture' && this.state.image) {
      const [x, y] = this.on([-0.5, -0.5]);
      g.imageSmoothingEnabled = this.scale < 3;
      g.drawImage(this.state.image, x, y, this.state.size[0] * this.scale, this.state.size[1] * this.scale);
    }
    this.grid(ink);
    for (const s of this.state.shapes()) this.shape(s);
    this.dock(this.state.dock());
    if (this.state.view === 'picture') for (const t of this.state.tapes()) { const [a, b] = t.pixels.map(p => this.on(p)); this.line([a, b], '#ffd400', false, true, true); this.words(`${t.length} m`, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2 - 6]); }
    this.numbered = []; // where numbers stand: marks close together are not all numbered
    this.state.marks().forEach((m, i) => this.mark(m, i));
    this.found(this.state.found());
    const tape = this.state.tape();
    if (tape.length) this.line(tape.map(p => this.on(p)), '#ffd400', false, true);
    if (this.cross) this.pointer(ink);
    if (this.cross && this.state.loupe() && !this.drag && !this.held) this.glass();
    this.loupe();
  }

  line(points, colour, closed, dots, dash) {
    const g = this.g;
    if (!points.length) return;
    for (const [w, c] of [[4, 'rgba(0,0,0,.55)'], [2, colour]]) {
      g.lineWidth = w;
      g.strokeStyle = c;
      g.setLineDash(dash ? [6, 4] : []);
      g.beginPath();
      points.forEach(([x, y], i) => (i ? g.lineTo(x, y) : g.moveTo(x, y)));
      if (closed) g.closePath();
      g.stroke();
    }
    g.setLineDash([]);
    if (dots) for (const [x, y] of points) { g.fillStyle = colour; g.fillRect(x - 4, y - 4, 8, 8); g.strokeStyle = '#000'; g.lineWidth = 1; g.strokeRect(x - 4, y - 4, 8, 8); }
  }

  // curve returns the board's points along an edge: straight on the floor is
  // bent in the picture.
  curve(a, b, z) {
    const n = this.state.view === 'plan' ? 1 : 12, out = [];
    for (let i = 0; i < n; i++) {
      const p = this.ofFloor([a[0] + (b[0] - a[0]) * i / n, a[1] + (b[1] - a[1]) * i / n], z);
      if (p) out.push(this.on(p));
    }
    return out;
  }

  shape(s) {
    const z = s.top ? s.height : 0, pts = s.points;
    const all = [];
    for (let i = 0; i < pts.length - (s.closed ? 0 : 1); i++) all.push(...this.curve(pts[i], pts[(i + 1) % pts.length], z));
    if (!s.closed && pts.length) { const p = this.ofFloor(pts[pts.length - 1], z); if (p) all.push(this.on(p)); }
    this.line(all, s.colour, s.closed, false, s.dash);
    // What stands up shows its top, and the edges that lead there.
    if (s.solid && s.height > 0 && this.state.view === 'picture') {
      const above = pts.flatMap((f, i) => this.curve(f, pts[(i + 1) % pts.length], s.height));
      this.line(above, s.colour, true, false, true);
      for (const f of pts) { const a = this.ofFloor(f), b = this.ofFloor(f, s.height); if (a && b) this.line([this.on(a), this.on(b)], s.colour, false, false, true); }
    }
    if (s.chosen) for (const f of pts) { const p = this.ofFloor(f, z); if (p) this.line([this.on(p)], s.colour, false, true); }
    if (s.name && pts.length) {
      const c = this.ofFloor([pts.reduce((t, p) => t + p[0], 0) / pts.length, pts.reduce((t, p) => t + p[1], 0) / pts.length], z);
      if (c) this.words(s.name, this.on(c));
    }
  }

  // dock shows where the robot stands when docked, and which way it faces.
  dock(d) {
    if (!d) return;
    const round = Array.from({ length: 33 }, (_, i) => [d.at[0] + d.radius * Math.cos(i * Math.PI / 16), d.at[1] + d.radius * Math.sin(i * Math.PI / 16)]);
    const on = round.map(f => this.ofFloor(f)).filter(Boolean).map(p => this.on(p));
    if (on.length < 33) return;
    this.line(on, '#b5a3ff', true);
    const a = (d.heading || 0) * Math.PI / 180, ends = [d.at, [d.at[0] + 1.4 * d.radius * Math.cos(a), d.at[1] + 1.4 * d.radius * Math.sin(a)]].map(f => this.ofFloor(f)).filter(Boolean).map(p => this.on(p));
    this.line(ends, '#b5a3ff', false);
    this.words('dock', on[24]);
  }

  // glass shows what is under the cross, six times as large, beside it.
  glass() {
    if (!this.state.image || this.state.view !== 'picture') return;
    const g = this.g, n = 120, s = 6, [cx, cy] = this.cross, p = this.at(this.cross);
    const x = cx + 26 + n > this.width ? cx - 26 - n : cx + 26, y = cy + 26 + n > this.tall ? cy - 26 - n : cy + 26;
    g.save();
    g.beginPath();
    g.rect(x, y, n, n);
    g.clip();
    g.fillStyle = '#444';
    g.fillRect(x, y, n, n);
    g.imageSmoothingEnabled = false;
    g.drawImage(this.state.image, x + n / 2 - (p[0] + 0.5) * s, y + n / 2 - (p[1] + 0.5) * s, this.state.size[0] * s, this.state.size[1] * s);
    g.strokeStyle = '#ffd400';
    g.lineWidth = 1;
    g.beginPath();
    g.moveTo(x, y + n / 2); g.lineTo(x + n, y + n / 2); g.moveTo(x + n / 2, y); g.lineTo(x + n / 2, y + n);
    g.stroke();
    g.restore();
    g.strokeStyle = '#000';
    g.strokeRect(x, y, n, n);
  }

  words(text, [x, y]) {
    const g = this.g;
    g.font = '13px system-ui, sans-serif';
    g.textAlign = 'center';
    g.lineWidth = 3;
    g.strokeStyle = 'rgba(0,0,0,.75)';
    g.strokeText(text, x, y);
    g.fillStyle = '#fff';
    g.fillText(text, x, y);
  }

  grid(ink) {
    const camera = this.state.camera, g = this.g;
    if (this.state.view === 'picture' && !camera) return;
    const f = this.state.shapes().flatMap(s => s.points).concat(this.state.marks().filter(m => m.floor).map(m => m.floor));
    if (!f.length) return;
    const step = 0.5, lo = [0, 1].map(i => Math.floor(Math.min(...f.map(p => p[i])) / step) * step), hi = [0, 1].map(i => Math.ceil(Math.max(...f.map(p => p[i])) / step) * step);
    if ((hi[0] - lo[0]) / step > 200 || (hi[1] - lo[1]) / step > 200) return;
    g.lineWidth = 1;
    g.strokeStyle = this.state.view === 'picture' ? 'rgba(255,255,255,.55)' : ink;
    g.globalAlpha = this.state.view === 'picture' ? 1 : 0.25;
    const path = (a, b) => {
      g.beginPath();
      const n = 24;
      let on = false;
      for (let i = 0; i <= n; i++) {
        const p = this.ofFloor([a[0] + (b[0] - a[0]) * i / n, a[1] + (b[1] - a[1]) * i / n]);
        if (!p) { on = false; continue; }
        const [x, y] = this.on(p);
        if (on) g.lineTo(x, y); else g.moveTo(x, y);
        on = true;
      }
      g.stroke();
    };
    for (let x = lo[0]; x <= hi[0] + 1e-9; x += step) path([x, lo[1]], [x, hi[1]]);
    for (let y = lo[1]; y <= hi[1] + 1e-9; y += step) path([lo[0], y], [hi[0], y]);
    g.globalAlpha = 1;
  }

  mark(m, i) {
    const p = this.state.view === 'picture' ? m.pixel : m.floor;
    if (!p || !Number.isFinite(p[0])) return;
    const [x, y] = this.on(p), g = this.g, far = 9;
    for (const [w, c] of [[4, 'rgba(0,0,0,.6)'], [1.6, m.chosen ? '#ffd400' : '#fff']]) {
      g.lineWidth = w;
      g.strokeStyle = c;
      g.beginPath();
      g.moveTo(x - far, y); g.lineTo(x - 2, y); g.moveTo(x + 2, y); g.lineTo(x + far, y);
      g.moveTo(x, y - far); g.lineTo(x, y - 2); g.moveTo(x, y + 2); g.lineTo(x, y + far);
      g.stroke();
    }
    if (m.chosen || this.numbered.every(q => Math.hypot(q[0] - x, q[1] - y) > 22)) {
      this.words(String(i + 1), [x + 14, y - 6]);
      this.numbered.push([x, y]);
    }
    // Where the solved camera puts the mark: the residual, drawn ten times as long.
    if (this.state.view === 'picture' && this.state.camera && m.floor) {
      const q = project(this.state.camera, m.floor[0], m.floor[1], m.floor[2] || 0);
      if (q) { const [a, b] = this.on([p[0] + 10 * (q[0] - p[0]), p[1] + 10 * (q[1] - p[1])]); g.strokeStyle = '#ff5a36'; g.lineWidth = 2; g.beginPath(); g.moveTo(x, y); g.lineTo(a, b); g.stroke(); }
    }
  }

  // found shows corners of a chessboard: the first ringed, with a line along its row.
  found({ points, ends }) {
    if (!points.length) return;
    const g = this.g, on = points.map(p => this.on(p));
    for (const [w, c] of [[3, 'rgba(0,0,0,.6)'], [1.5, '#ffd400']]) {
      g.lineWidth = w;
      g.strokeStyle = c;
      g.beginPath();
      for (const [x, y] of on) { g.moveTo(x + 3, y); g.arc(x, y, 3, 0, 2 * Math.PI); }
      g.moveTo(on[0][0] + 9, on[0][1]);
      g.arc(on[0][0], on[0][1], 9, 0, 2 * Math.PI);
      const [a, b] = ends.map(p => this.on(p)), n = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
      g.moveTo(a[0] + 9 * (b[0] - a[0]) / n, a[1] + 9 * (b[1] - a[1]) / n);
      g.lineTo(a[0] + 36 * (b[0] - a[0]) / n, a[1] + 36 * (b[1] - a[1]) / n);
      g.stroke();
    }
  }

  pointer(ink) {
    const g = this.g, [x, y] = this.cross;
    g.strokeStyle = this.state.view === 'picture' ? '#ffd400' : ink;
    g.lineWidth = 1;
    g.beginPath();
    g.moveTo(x, 0); g.lineTo(x, this.tall); g.moveTo(0, y); g.lineTo(this.width, y);
    g.stroke();
  }

  // loupe shows the neighbourhood of the chosen mark, or of the cross.
  loupe() {
    const l = $('loupe'), g = l.getContext('2d'), s = 8;
    g.fillStyle = '#444';
    g.fillRect(0, 0, l.width, l.height);
    const c = this.loupeAt();
    if (!c || !this.state.image || this.state.view !== 'picture') return;
    g.imageSmoothingEnabled = false;
    g.drawImage(this.state.image, l.width / 2 - (c[0] + 0.5) * s, l.height / 2 - (c[1] + 0.5) * s, this.state.size[0] * s, this.state.size[1] * s);
    g.strokeStyle = '#ffd400';
    g.lineWidth = 1;
    g.beginPath();
    const [mx, my] = [l.width / 2, l.height / 2];
    g.moveTo(mx, 0); g.lineTo(mx, my - 6); g.moveTo(mx, my + 6); g.lineTo(mx, l.height);
    g.moveTo(0, my); g.lineTo(mx - 6, my); g.moveTo(mx + 6, my); g.lineTo(l.width, my);
    g.stroke();
  }

  loupeAt() { return this.state.chosenPixel() || (this.cross ? this.at(this.cross) : undefined); }

  // tell says in words where the cross is.
  tell() {
    if (!this.cross) return '';
    const p = this.at(this.cross), f = this.floorAt(p, this.state.height());
    const parts = [];
    if (this.state.view === 'picture') parts.push(`pixel ${p[0].toFixed(1)}, ${p[1].toFixed(1)}`);
    if (f) parts.push(`floor ${f[0].toFixed(3)}, ${f[1].toFixed(3)} m`);
    if (this.state.view === 'picture' && this.state.camera) { const s = pixelSize(this.state.camera, p[0], p[1]); if (s) parts.push(`a pixel is ${(1000 * s).toFixed(1)} mm here`); }
    return parts.join(' · ');
  }
}
