// Where a corner was meant to be. Pure functions of floor points, m.

const far = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

// aim returns where f was meant: a corner within reach; else, with the outline
// so far, the nearest direction that is square to its last side (or to the axes
// for the first) within reach; else f. A length, if given, is kept exactly along
// the direction that was found. It closes a rectangle: in line with the first
// corner within reach.
export function aim(f, outline, { corners = [], square = true, length = null, reach = 0.06 }) {
  if (!length) {
    const first = outline.length >= 3 ? [outline[0]] : [];
    for (const c of [...first, ...corners]) if (far(c, f) < reach) return [...c];
  }
  if (outline.length === 0) return f;
  const last = outline[outline.length - 1];
  let d = [f[0] - last[0], f[1] - last[1]];
  if (square) {
    let along = [1, 0];
    if (outline.length > 1) {
      const before = outline[outline.length - 2], n = far(last, before);
      if (n > 0) along = [(last[0] - before[0]) / n, (last[1] - before[1]) / n];
    }
    const a = d[0] * along[0] + d[1] * along[1], b = -d[0] * along[1] + d[1] * along[0];
    // Square if the side leans by less than reach, or by less than 6 degrees.
    const limit = Math.max(reach, 0.1 * Math.hypot(a, b));
    if (Math.min(Math.abs(a), Math.abs(b)) < limit) {
      const [p, q] = Math.abs(a) > Math.abs(b) ? [a, 0] : [0, b];
      d = [p * along[0] - q * along[1], p * along[1] + q * along[0]];
      if (!length && outline.length >= 2) {
        // In line with the first corner, so that the last side is square too.
        const n = Math.hypot(...d), u = n ? [d[0] / n, d[1] / n] : [0, 0];
        const t = (outline[0][0] - last[0]) * u[0] + (outline[0][1] - last[1]) * u[1];
        if (Math.abs(t - n) < reach && t > reach) d = [u[0] * t, u[1] * t];
      }
    }
  }
  if (length) {
    const n = Math.hypot(...d);
    if (n > 0) d = [d[0] * length / n, d[1] * length / n];
  }
  return [last[0] + d[0], last[1] + d[1]];
}
