/* Places on the earth: distance on the ellipsoid, a field's own metres, and which side of an outline. */
const ringrowEarth = (() => {
  const A = 6378137, F = 1 / 298.257223563, B = A * (1 - F), E2 = F * (2 - F), RAD = Math.PI / 180;

  /* An angle brought into one turn; a tiny negative one rounds to the whole turn, which is 0. */
  function turned(deg) {
    const angle = deg % 360;
    return (angle < 0 ? angle + 360 : angle) % 360;
  }
  const bearing = (east, north) => turned(Math.atan2(east, north) / RAD);

  /* Vincenty's inverse formula on WGS 84, azimuth at the first place. Two places on opposite sides of the
     earth do not settle: the last round is then as good as it gets. */
  function distance(lon1, lat1, lon2, lat2) {
    const lon = (((lon2 - lon1 + 540) % 360) - 180) * RAD;
    const u1 = Math.atan((1 - F) * Math.tan(lat1 * RAD)), u2 = Math.atan((1 - F) * Math.tan(lat2 * RAD));
    const sin1 = Math.sin(u1), cos1 = Math.cos(u1), sin2 = Math.sin(u2), cos2 = Math.cos(u2);
    let lambda = lon, sigma = 0, sinSigma = 0, cosSigma = 1, cosSquared = 1, middle = 0, east = 0, north = 0;
    for (let round = 0; round < 100; round += 1) {
      east = cos2 * Math.sin(lambda);
      north = cos1 * sin2 - sin1 * cos2 * Math.cos(lambda);
      sinSigma = Math.hypot(east, north);
      if (sinSigma === 0) return { metres: 0, azimuth_deg: 0 };
      cosSigma = sin1 * sin2 + cos1 * cos2 * Math.cos(lambda);
      sigma = Math.atan2(sinSigma, cosSigma);
      const sinAlpha = (cos1 * east) / sinSigma;
      cosSquared = 1 - sinAlpha * sinAlpha;
      /* Along the equator there is no middle. */
      middle = cosSquared > 1e-15 ? cosSigma - (2 * sin1 * sin2) / cosSquared : 0;
      const c = (F / 16) * cosSquared * (4 + F * (4 - 3 * cosSquared));
      const bow = sigma + c * sinSigma * (middle + c * cosSigma * (2 * middle * middle - 1));
      const before = lambda;
      lambda = lon + (1 - c) * F * sinAlpha * bow;
      if (Math.abs(lambda - before) < 1e-14) break;
    }
    const u = (cosSquared * (A * A - B * B)) / (B * B);
    const a = 1 + (u / 16384) * (4096 + u * (u * (320 - 175 * u) - 768));
    const b = (u / 1024) * (256 + u * (u * (74 - 47 * u) - 128));
    const last = (b / 6) * middle * (4 * sinSigma * sinSigma - 3) * (4 * middle * middle - 3);
    const less = b * sinSigma * (middle + (b / 4) * (cosSigma * (2 * middle * middle - 1) - last));
    return { metres: B * a * (sigma - less), azimuth_deg: bearing(east, north) };
  }

  /* A field's frame is azimuthal equidistant: distance and azimuth from its origin, as x and y. */
  function toXy([lon0, lat0], lon, lat) {
    const { metres, azimuth_deg } = distance(lon0, lat0, lon, lat);
    return [metres * Math.sin(azimuth_deg * RAD), metres * Math.cos(azimuth_deg * RAD)];
  }
  /* Back by trying: each round takes what is missing as if degrees were everywhere as long as at the origin. */
  function toLonLat([lon0, lat0], x, y) {
    const s = Math.sin(lat0 * RAD), across = A / Math.sqrt(1 - E2 * s * s);
    const east = across * Math.cos(lat0 * RAD) * RAD, north = ((across * (1 - E2)) / (1 - E2 * s * s)) * RAD;
    let lon = lon0, lat = lat0;
    for (let round = 0; round < 8; round += 1) {
      const [gotX, gotY] = toXy([lon0, lat0], lon, lat);
      lon += (x - gotX) / east;
      lat += (y - gotY) / north;
    }
    return [lon, lat];
  }

  /* Rings come as whole steps from corner to corner. */
  function unpackRings(rings, step) {
    return rings.map((steps) => {
      const ring = new Float64Array(steps.length);
      let x = 0, y = 0;
      for (let i = 0; i < steps.length; i += 2) {
        ring[i] = (x += steps[i]) * step;
        ring[i + 1] = (y += steps[i + 1]) * step;
      }
      return ring;
    });
  }
  /* Even and odd crossings of a ray, so that holes and parts need no telling apart. */
  function covers(rings, x, y) {
    let inside = false;
    for (const ring of rings) {
      for (let i = 2; i < ring.length; i += 2) {
        const y1 = ring[i - 1], y2 = ring[i + 1];
        if (y1 > y !== y2 > y && x < ring[i - 2] + ((y - y1) * (ring[i] - ring[i - 2])) / (y2 - y1)) inside = !inside;
      }
    }
    return inside;
  }
  function nearestOnRings(rings, x, y) {
    let best = Infinity, at = null;
    for (const ring of rings) {
      for (let i = 2; i < ring.length; i += 2) {
        const dx = ring[i] - ring[i - 2], dy = ring[i + 1] - ring[i - 1];
        const share = ((x - ring[i - 2]) * dx + (y - ring[i - 1]) * dy) / (dx * dx + dy * dy || 1);
        const kept = Math.min(Math.max(share, 0), 1), nearX = ring[i - 2] + kept * dx, nearY = ring[i - 1] + kept * dy;
        const away = Math.hypot(x - nearX, y - nearY);
        if (away < best) [best, at] = [away, [nearX, nearY]];
      }
    }
    return at;
  }

  /* Whole numbers that came as what a straight continuation misses them by; `runs` tells mixed runs apart. */
  function unfold(missed, step, runs = null) {
    const values = new Float64Array(missed.length), before = [];
    missed.forEach((miss, i) => {
      const run = runs ? runs[i] : 0, [one, two] = before[run] || [];
      const whole = miss + (one === undefined ? 0 : two === undefined ? one : 2 * one - two);
      before[run] = [whole, one];
      values[i] = whole * step;
    });
    return values;
  }

  return Object.freeze({ RAD, turned, bearing, distance, toXy, toLonLat, unpackRings, covers, nearestOnRings, unfold });
})();
