// A solved camera: floor to pixel and back, as geom.Camera does it. Pixels are
// (column, row), the centre of the first at (0, 0).

function distort(c, x, y) {
  const [fx, fy] = c.focal, [cx, cy] = c.centre, k = c.distortion;
  const r2 = x * x + y * y;
  if (c.model === 'fisheye') {
    const r = Math.sqrt(r2);
    let s = 1;
    if (r > 1e-12) {
      const a = Math.atan(r), t = a * a;
      s = a * (1 + t * (k[0] + t * (k[1] + t * (k[2] + t * k[3])))) / r;
    }
    return [fx * x * s + cx, fy * y * s + cy];
  }
  const rad = 1 + r2 * (k[0] + r2 * (k[1] + r2 * k[4]));
  return [fx * (x * rad + 2 * k[2] * x * y + k[3] * (r2 + 2 * x * x)) + cx,
    fy * (y * rad + k[2] * (r2 + 2 * y * y) + 2 * k[3] * x * y) + cy];
}

// project returns the pixel of floor point (x, y, z), or undefined behind the lens.
export function project(c, x, y, z = 0) {
  const d = [x - c.place[0], y - c.place[1], z - c.place[2]];
  const v = c.r.map(row => row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
  if (v[2] <= 1e-9) return undefined;
  return distort(c, v[0] / v[2], v[1] / v[2]);
}

// floor returns the point at height z that shows at pixel (u, v), or undefined.
// The lens is inverted by Newton's method with the slope taken numerically.
export function floor(c, u, v, z = 0) {
  let x = (u - c.centre[0]) / c.focal[0], y = (v - c.centre[1]) / c.focal[1];
  const h = 1e-6;
  for (let i = 0; i < 60; i++) {
    const p = distort(c, x, y), px = distort(c, x + h, y), py = distort(c, x, y + h);
    const a = (px[0] - p[0]) / h, b = (py[0] - p[0]) / h, e = (px[1] - p[1]) / h, f = (py[1] - p[1]) / h;
    const det = a * f - b * e, ru = p[0] - u, rv = p[1] - v;
    if (!det) return undefined;
    let dx = (f * ru - b * rv) / det, dy = (a * rv - e * ru) / det;
    const n = Math.hypot(dx, dy);
    if (n > 0.3) { dx *= 0.3 / n; dy *= 0.3 / n; }
    x -= dx;
    y -= dy;
    if (n < 1e-12) break;
  }
  const q = distort(c, x, y);
  if (Math.hypot(q[0] - u, q[1] - v) > 1e-3) return undefined;
  const r = c.r, ray = [0, 1, 2].map(j => r[0][j] * x + r[1][j] * y + r[2][j]);
  const t = (z - c.place[2]) / ray[2];
  if (!(t > 0)) return undefined;
  return [c.place[0] + t * ray[0], c.place[1] + t * ray[1]];
}

// pixelSize returns what a pixel is worth at (u, v), m, along the worse direction.
export function pixelSize(c, u, v) {
  const p = floor(c, u, v), px = floor(c, u + 1, v), py = floor(c, u, v + 1);
  if (!p || !px || !py) return undefined;
  return Math.max(Math.hypot(px[0] - p[0], px[1] - p[1]), Math.hypot(py[0] - p[0], py[1] - p[1]));
}
