// What the tool has swept by a given time: on the plan its map comes up as the run
// goes on, in the recording a veil of colour lies over the floor.
import { make } from './common.js';
import { project } from './lens.js';

// Swept paints for one player. Segments are added as time goes on; a step back
// paints from the beginning.
export class Swept {
  constructor(player) {
    this.player = player;
    const run = player.run, plan = run.plan;
    this.on = run.tool[0] > 0;
    if (!this.on) return;
    this.cover = make('canvas', { class: 'swept', width: plan.width, height: plan.height, 'aria-hidden': 'true' });
    player.img.after(this.cover);
    player.img.classList.add('faded');
    player.img.addEventListener('load', () => this.paint(true));
    this.mask = new OffscreenCanvas(plan.width, plan.height);
    if (run.camera) {
      this.veil = make('canvas', { class: 'veil', width: run.camera.width, height: run.camera.height, 'aria-hidden': 'true' });
      player.still.after(this.veil);
    }
    this.ends = run.path.map(p => this.line(p));
    this.reset();
  }

  // line returns the two ends of the cleaning line at a place of the path, on the
  // floor; undefined where it is not known.
  line([, x, y, h]) {
    if (x === null || h === null) return undefined;
    const [width, ahead, left] = this.player.run.tool, a = h * Math.PI / 180, c = Math.cos(a), s = Math.sin(a);
    return [left + width / 2, left - width / 2].map(l => [x + ahead * c - l * s, y + ahead * s + l * c]);
  }

  reset() {
    this.next = 1;
    this.mask.getContext('2d').clearRect(0, 0, this.mask.width, this.mask.height);
    this.veil?.getContext('2d').clearRect(0, 0, this.veil.width, this.veil.height);
  }

  // show brings both pictures to time t.
  show(t) {
    if (!this.on) return;
    const path = this.player.run.path;
    if (this.next > 1 && path[this.next - 1][0] > t) this.reset();
    const from = this.next, g = this.mask.getContext('2d'), v = this.veil?.getContext('2d');
    g.fillStyle = g.strokeStyle = '#000';
    if (v) { v.fillStyle = '#1f8fff'; v.strokeStyle = '#1f8fff'; }
    for (; this.next < path.length && path[this.next][0] <= t; this.next++) {
      const a = this.ends[this.next - 1], b = this.ends[this.next];
      // Only what was driven within a moment: across a gap nothing is known.
      if (!a || !b || path[this.next][0] - path[this.next - 1][0] > 2 || path[this.next][0] < this.player.start) continue;
      const quad = [a[0], a[1], b[1], b[0]];
      this.fill(g, quad.map(p => this.player.at(...p)));
      if (v) { const seen = quad.map(p => project(this.player.run.camera, p[0], p[1])); if (seen.every(Boolean)) this.fill(v, seen); }
    }
    if (this.next !== from || from === 1) this.paint();
  }

  // fill paints a quadrilateral with its rim, so that neighbours leave no seam.
  fill(g, [first, ...rest]) {
    g.beginPath();
    g.moveTo(...first);
    for (const p of rest) g.lineTo(...p);
    g.closePath();
    g.fill();
    g.lineWidth = 1;
    g.stroke();
  }

  // paint shows the map of passes where the tool has been.
  paint() {
    const img = this.player.img, g = this.cover?.getContext('2d');
    if (!g || !img.complete || !img.naturalWidth) return;
    g.globalCompositeOperation = 'source-over';
    g.clearRect(0, 0, this.cover.width, this.cover.height);
    g.drawImage(this.mask, 0, 0);
    g.globalCompositeOperation = 'source-in';
    g.drawImage(img, 0, 0, this.cover.width, this.cover.height);
  }
}
