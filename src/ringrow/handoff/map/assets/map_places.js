/* Places on the map as numbers: degrees, pixels of a world at zoom 0, metres of a drip block. */
const ringrowPlaces = (() => {
  const EARTH_M = 6378137, E2 = 0.0066943799901413165;

  /* Degrees to Mercator at zoom 0, once; then only a factor and a shift. */
  function world(lon, lat) {
    const s = Math.sin((lat * Math.PI) / 180);
    return [256 * (lon / 360 + 0.5), 128 - (64 / Math.PI) * Math.log((1 + s) / (1 - s))];
  }
  /* Ground metres that one pixel covers from west to east; Mercator stretches with latitude. */
  function metresPerPixel(lat, zoom) {
    const phi = (lat * Math.PI) / 180, s = Math.sin(phi);
    const parallel = (EARTH_M * Math.cos(phi)) / Math.sqrt(1 - E2 * s * s);
    return (2 * Math.PI * parallel) / (256 * Math.pow(2, zoom));
  }
  function unpack(rings, [west, south], step) {
    return rings.map((steps) => {
      const line = new Float64Array(steps.length);
      let lon = 0, lat = 0;
      for (let i = 0; i < steps.length; i += 2) {
        lon += steps[i];
        lat += steps[i + 1];
        [line[i], line[i + 1]] = world(west + lon * step, south + lat * step);
      }
      return line;
    });
  }
  /* West, north, east, south of a line, so that what is out of sight costs nothing. */
  function boxOf(line) {
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = 0; i < line.length; i += 2) {
      box[0] = Math.min(box[0], line[i]);
      box[1] = Math.min(box[1], line[i + 1]);
      box[2] = Math.max(box[2], line[i]);
      box[3] = Math.max(box[3], line[i + 1]);
    }
    return box;
  }

  /* Drip blocks: a frame in metres, its place on the globe as a polynomial. */
  function terms(x, y) {
    x /= 1000;
    y /= 1000;
    return [1, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y];
  }
  const dot = (a, b) => a.reduce((sum, value, i) => sum + value * b[i], 0);
  function toLonLat(block, x, y) {
    const t = terms(x, y);
    return [dot(block.frame.lon, t), dot(block.frame.lat, t)];
  }
  /* Back from degrees to metres: three Newton steps on the linear part reach a tenth of a millimetre. */
  function toXy(block, lon, lat) {
    const { lon: a, lat: b } = block.frame, det = a[1] * b[2] - a[2] * b[1];
    let x = 0, y = 0;
    for (let i = 0; i < 4; i += 1) {
      const [lo, la] = toLonLat(block, x, y);
      x += (1000 * ((lon - lo) * b[2] - (lat - la) * a[2])) / det;
      y += (1000 * ((lat - la) * a[1] - (lon - lo) * b[1])) / det;
    }
    return [x, y];
  }

  /* Whether a place lies inside rings, holes left out. */
  function inside(lines, [x, y]) {
    let odd = false;
    for (const line of lines) {
      for (let i = 0, j = line.length - 2; i < line.length; j = i, i += 2) {
        if (line[i + 1] > y !== line[j + 1] > y && x < ((line[j] - line[i]) * (y - line[i + 1])) / (line[j + 1] - line[i + 1]) + line[i]) odd = !odd;
      }
    }
    return odd;
  }
  /* Letters of a column of the grid: A to Z, AA, AB, ... */
  function columnName(index) {
    let name = "";
    for (let left = index; left >= 0; left = Math.floor(left / 26) - 1) name = String.fromCharCode(65 + (left % 26)) + name;
    return name;
  }
  /* The part of a line inside a box; null when there is none. */
  function clip(box, [x1, y1, x2, y2]) {
    let low = 0, high = 1;
    const dx = x2 - x1, dy = y2 - y1;
    for (const [p, q] of [[-dx, x1 - box[0]], [dx, box[2] - x1], [-dy, y1 - box[1]], [dy, box[3] - y1]]) {
      if (p === 0) { if (q < 0) return null; } else {
        const r = q / p;
        if (p < 0) low = Math.max(low, r);
        else high = Math.min(high, r);
      }
    }
    return low < high ? [x1 + low * dx, y1 + low * dy, x1 + high * dx, y1 + high * dy] : null;
  }
  return { world, metresPerPixel, unpack, boxOf, toLonLat, toXy, inside, columnName, clip };
})();
