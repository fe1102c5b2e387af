/* The live map. Text from people is only ever put in through textContent. */
function ringrowMap(map) {
  const data = JSON.parse(document.getElementById("data").textContent);
  const words = data.words;
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => String(values[name]));
  const on = Object.fromEntries(data.layers.map((layer) => [layer.key, layer.on]));
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const EARTH_M = 6378137, E2 = 0.0066943799901413165;

  /* ---- what the other parts of the page hook into ---- */
  const overlays = [], hearers = {};
  let tapTaker = null, coveredPx = () => 0;
  const hear = (what, act) => (hearers[what] ||= []).push(act);
  const tell = (what, detail) => (hearers[what] || []).forEach((act) => act(detail));

  /* ---- positions: degrees to Mercator at zoom 0, once; then only a factor and a shift ---- */
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
  function unpack(rings) {
    const [west, south] = data.bounds;
    return rings.map((steps) => {
      const line = new Float64Array(steps.length);
      let lon = 0, lat = 0;
      for (let i = 0; i < steps.length; i += 2) {
        lon += steps[i];
        lat += steps[i + 1];
        [line[i], line[i + 1]] = world(west + lon * data.step, south + lat * data.step);
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
  for (const item of [...data.areas, ...data.tracks, ...data.ends, ...data.ways, ...data.grounds]) {
    item.lines_w = unpack(item.rings);
    item.boxes_w = item.lines_w.map(boxOf);
    if (item.label) item.label_w = world(...item.label);
  }
  for (const point of [...data.points, ...data.ways.flatMap((way) => way.marks)]) point.at_w = world(...point.at);
  for (const flag of data.flags) if (flag.at) flag.at_w = world(...flag.at);

  /* ---- drip blocks: a frame in metres, its place on the globe as a polynomial ---- */
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
  for (const block of data.blocks) {
    let number = 0;
    block.lateral = Int32Array.from(block.lateral, (step) => (number += step));
    block.boxes_w = data.areas.find((area) => area.kind === "wetted-area" && area.name === block.name).boxes_w;
    if (block.rings) {
      block.lines_w = unpack(block.rings);
      block.line_boxes_w = block.lines_w.map(boxOf);
      continue;
    }
    block.start = Float64Array.from(block.start_dm, (value) => value / 10);
    block.stop = Float64Array.from(block.stop_dm, (value) => value / 10);
  }
  /* First piece whose lateral number is at least `number`. */
  function firstPiece(block, number) {
    let low = 0, high = block.lateral.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (block.lateral[middle] < number) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /* ---- drawing ---- */
  let ctx, scale, shiftX, shiftY, view, screen, taken, drawnFlags = [], chosen = null, symbolSize = 1, closeUp = false;
  const toPx = (w) => [w[0] * scale - shiftX, w[1] * scale - shiftY];

  const inView = ([x1, y1, x2, y2]) =>
    x2 * scale - shiftX >= view[0] && x1 * scale - shiftX <= view[2] && y2 * scale - shiftY >= view[1] && y1 * scale - shiftY <= view[3];

  /* Put lines or rings in view into the pen's path; false when there are none. */
  function trace(item, close) {
    let any = false;
    ctx.beginPath();
    item.lines_w.forEach((line, index) => {
      const box = item.boxes_w[index];
      /* A ring under a pixel adds nothing either. */
      if (!inView(box) || Math.max(box[2] - box[0], box[3] - box[1]) * scale < 0.7) return;
      any = true;
      for (let i = 0; i < line.length; i += 2) {
        const x = line[i] * scale - shiftX, y = line[i + 1] * scale - shiftY;
        if (i === 0) ctx.moveTo(x, y);
        else ctx.lineTo(x, y);
      }
      if (close) ctx.closePath();
    });
    return any;
  }
  function hatch(key, size, paint) {
    if (!hatch[key]) {
      const tile = document.createElement("canvas");
      tile.width = tile.height = size;
      const pen = tile.getContext("2d");
      pen.lineWidth = 1.2;
      paint(pen);
      pen.stroke();
      hatch[key] = ctx.createPattern(tile, "repeat");
    }
    return hatch[key];
  }
  const gunHatch = () => hatch("gun", 9, (pen) => {
    pen.strokeStyle = "#1b4f72";
    for (const d of [-9, 0, 9]) { pen.moveTo(d, 9); pen.lineTo(d + 9, 0); }
  });
  const outHatch = () => hatch("out", 12, (pen) => {
    pen.strokeStyle = "#555";
    pen.moveTo(0, 0); pen.lineTo(12, 12); pen.moveTo(12, 0); pen.lineTo(0, 12);
  });
  /* Drip ground: thin lines the way the laterals run, until there is room for the laterals themselves. */
  const rowHatch = (area) => {
    const pattern = hatch("rows", 10, (pen) => {
      pen.strokeStyle = "#1b4f72";
      pen.moveTo(0, 5);
      pen.lineTo(10, 5);
    });
    pattern.setTransform(new DOMMatrix().rotate(area.heading_deg - 90));
    return pattern;
  };
  const STYLES = {
    "wetted-area": { layer: "wetted", under: "#cfe6f5", fill: (area) => (area.heading_deg !== undefined && !closeUp ? rowHatch(area) : null), edge: "#1b4f72", width: 1.5 },
    "corner-arm-sweep": { layer: "wetted", fill: () => "#b5d6ec", edge: "#1b4f72", width: 1 },
    bend: { layer: "wetted", edge: "#1b4f72", width: 1.5, dash: [2, 4] },
    "end-gun-ring": { layer: "wetted", fill: gunHatch, edge: "#1b4f72", width: 1 },
    "dry-piece": { layer: "dry", fill: () => "#f4e7c9", edge: "#000", width: 1.5, dash: [6, 4] },
    "edge-strips": { layer: "dry", fill: () => "#f4e7c9" },
    exclusion: { layer: "excluded", fill: outHatch, edge: "#000", width: 2, under: "#fff" },
    boundary: { edge: "#000", width: 3.5 },
  };
  /* Over an aerial photo the ground is left to be seen: edges only, black cased in white. */
  const overPhoto = () => on.photo === true;
  function casing(width) {
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = width + 3;
    ctx.stroke();
  }
  function drawAreas(kind) {
    const style = STYLES[kind];
    if (style.layer && !on[style.layer]) return;
    for (const area of data.areas) {
      if (area.kind !== kind) continue;
      if (!trace(area, true)) continue;
      for (const paint of overPhoto() ? [] : [style.under, style.fill && style.fill(area)]) {
        if (paint) { ctx.fillStyle = paint; ctx.fill("evenodd"); }
      }
      if (style.edge) {
        if (overPhoto()) casing(style.width);
        ctx.strokeStyle = style.edge;
        ctx.lineWidth = style.width;
        ctx.setLineDash(style.dash || []);
        ctx.stroke();
        ctx.setLineDash([]);
      }
    }
  }
  /* Header lines whole, flush lines broken. */
  function drawEnds() {
    ctx.strokeStyle = "#1b4f72";
    ctx.lineWidth = 3;
    for (const end of data.ends) {
      ctx.setLineDash(end.kind === "header" ? [] : [9, 6]);
      if (trace(end, false)) ctx.stroke();
    }
    ctx.setLineDash([]);
  }
  function drawTracks() {
    ctx.strokeStyle = "#333";
    ctx.lineWidth = 1.2;
    for (const track of data.tracks) {
      if (!trace(track, false)) continue;
      if (overPhoto()) { casing(0.5); ctx.strokeStyle = "#333"; ctx.lineWidth = 1.2; }
      ctx.stroke();
    }
  }

  /* ---- lines that are no ground ---- */
  const PENS = {
    "arm-wheel-path": { layer: "tracks", passes: [["#000", 2, [10, 6]]] },
    "bent-pipe": { layer: "tracks", passes: [["#333", 3.5, []]] },
    "cart-path": { layer: "tracks", passes: [["#000", 3, [14, 5, 3, 5]]] },
    "pivot-road": { layer: "tracks", passes: [["#333", 6, []], ["#fff", 3.5, []]] },
    "keep-off": { layer: "excluded", passes: [["#000", 8, []], ["#fff", 5, [6, 6]]] },
    standing: { layer: "standing", passes: [["#fff", 9, []], ["#000", 4.5, []]] },
  };
  const waysOf = (standing) => data.ways.filter((way) => (way.kind === "standing") === standing && on[PENS[way.kind].layer]);
  function drawWays(standing, metres) {
    ctx.lineJoin = "round";
    for (const way of waysOf(standing)) {
      for (const [colour, width, dash] of PENS[way.kind].passes) {
        ctx.strokeStyle = colour;
        ctx.lineWidth = width;
        ctx.setLineDash(dash);
        if (trace(way, false)) ctx.stroke();
        for (const line of way.lines_w) if (line.length === 2) { ctx.beginPath(); ctx.arc(...toPx(line), 9, 0, 2 * Math.PI); ctx.stroke(); }
      }
      ctx.setLineDash([]);
      if (metres > 3.5) continue;
      ctx.fillStyle = "#fff";
      ctx.strokeStyle = "#000";
      ctx.lineWidth = standing ? 2.5 : 1.5;
      for (const mark of way.marks) {
        const [x, y] = toPx(mark.at_w);
        ctx.beginPath();
        if (standing) ctx.rect(x - 4.5, y - 4.5, 9, 9);
        else ctx.arc(x, y, 3, 0, 2 * Math.PI);
        ctx.fill();
        ctx.stroke();
      }
    }
  }
  /* Labels keep off towers of machines that stand here, off pivot points and off small things no gun may reach. */
  function keepClear(metres) {
    const spots = waysOf(true).flatMap((way) => (metres > 3.5 ? [] : way.marks.map((mark) => toPx(mark.at_w))));
    for (const way of waysOf(false)) if (way.kind === "keep-off") spots.push(...way.lines_w.filter((line) => line.length === 2).map(toPx));
    if (on.points) spots.push(...data.points.filter(({ kind }) => kind === "pivot-point").map(({ at_w }) => toPx(at_w)));
    for (const [x, y] of spots) taken.push([x - 8, y - 8, x + 8, y + 8]);
    for (const box of waysOf(false).filter(({ kind }) => kind === "keep-off").flatMap((way) => way.boxes_w)) {
      const [x1, y1, x2, y2] = [...toPx(box), ...toPx(box.slice(2))];
      if (x2 - x1 < 120 && y2 - y1 < 120) taken.push([x1 - 5, y1 - 5, x2 + 5, y2 + 5]);
    }
  }
  function nameMarks(standing, metres) {
    for (const way of waysOf(standing)) {
      const from = toPx(way.lines_w[0]), to = toPx(way.lines_w[0].slice(-2)), long = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
      let square = [(from[1] - to[1]) / long, (to[0] - from[0]) / long];
      if (square[1] > 0) square = square.map((part) => -part);
      /* Numbers of towers stand beside the pipe, so that a flag on a tower leaves them to be read. */
      const beside = [24, -24, 42, -42].map((step) => square.map((part) => step * part));
      const round = [[0, -15], [0, 15], [34, 0], [-34, 0]];
      for (const mark of way.marks) if (mark.text && metres < (standing ? 3.5 : 3.2)) label([mark.text], ...toPx(mark.at_w), 15, { offsets: standing ? beside : round });
    }
  }
  /* Pixels from a place to the nearest line of a way. */
  function farFrom(way, x, y) {
    let least = Infinity;
    for (const line of way.lines_w) {
      for (let i = 0; i < Math.max(line.length - 2, 1); i += 2) {
        const [ax, ay] = toPx([line[i], line[i + 1]]), [bx, by] = line.length > 2 ? toPx([line[i + 2], line[i + 3]]) : [ax, ay];
        const dx = bx - ax, dy = by - ay, along = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
        least = Math.min(least, Math.hypot(x - ax - along * dx, y - ay - along * dy));
      }
    }
    return least;
  }
  function wayAt(x, y) {
    const near = [...waysOf(true), ...waysOf(false)].map((way) => ({ way, far: farFrom(way, x, y) })).filter(({ far }) => far <= 14);
    return near.sort((a, b) => a.far - b.far)[0]?.way;
  }
  function wayWords(way, x, y) {
    if (way.kind !== "standing") return way.words;
    const far = (mark) => Math.hypot(toPx(mark.at_w)[0] - x, toPx(mark.at_w)[1] - y);
    const tower = way.marks.filter((mark) => mark.text && far(mark) <= 16).sort((a, b) => far(a) - far(b))[0];
    return tower ? fill(words.standing_tower, { words: way.words, tower: tower.text }) : way.words;
  }

  /* ---- what the chosen flag touches: grey only, so that it prints and reads without colour ---- */
  const TOUCHED = {
    dry: { size: 11, dash: [7, 4], paint: (pen) => { pen.fillRect(1, 1, 3.5, 3.5); pen.fillRect(6.5, 6.5, 3.5, 3.5); } },
    wet: { size: 8, dash: [], paint: (pen) => pen.fillRect(0, 2, 8, 2.5) },
    stopped: { size: 16, dash: [], paint: (pen) => { pen.lineWidth = 2; for (const d of [-16, 0, 16]) { pen.moveTo(d, 16); pen.lineTo(d + 16, 0); } } },
  };
  function drawTouched() {
    if (!chosen || chosen.ground === undefined) return;
    const { effect, systems, lines_w, boxes_w } = data.grounds[chosen.ground], style = TOUCHED[effect];
    const pattern = hatch(effect, style.size, (pen) => { pen.fillStyle = pen.strokeStyle = "rgba(0, 0, 0, 0.62)"; style.paint(pen); });
    const grounds = systems.length ? data.areas.filter((area) => area.kind === "wetted-area" && systems.includes(area.name)) : [{ lines_w, boxes_w }];
    for (const ground of grounds) {
      if (!trace(ground, true)) continue;
      ctx.fillStyle = pattern;
      ctx.fill("evenodd");
      ctx.setLineDash([]);
      ctx.strokeStyle = "#fff";
      ctx.lineWidth = 5;
      ctx.stroke();
      ctx.strokeStyle = "#000";
      ctx.lineWidth = 2.5;
      ctx.setLineDash(style.dash);
      ctx.stroke();
      ctx.setLineDash([]);
    }
  }

  function text(words_, x, y, size, centre = true) {
    ctx.font = `bold ${size}px system-ui, "Liberation Sans", Arial, sans-serif`;
    ctx.textAlign = centre ? "center" : "left";
    ctx.textBaseline = "alphabetic";
    ctx.lineJoin = "round";
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 5;
    ctx.strokeText(words_, x, y);
    ctx.fillStyle = "#000";
    ctx.fillText(words_, x, y);
  }
  /* A label where no other one stands; false when there is no room. */
  function label(lines, x, y, size, { room = Infinity, still = false, offsets = null, within = null } = {}) {
    ctx.font = `bold ${size}px system-ui, "Liberation Sans", Arial, sans-serif`;
    const wide = Math.max(...lines.map((line) => ctx.measureText(line).width)) + 6;
    const high = lines.length * size * 1.2;
    if (wide > room) return false;
    if (within && within[2] - within[0] > wide + 10) x = Math.max(within[0] + wide / 2 + 4, Math.min(within[2] - wide / 2 - 4, x));
    if (within && within[3] - within[1] > high + 10) y = Math.max(within[1] + high / 2 + 4, Math.min(within[3] - high / 2 - 4, y));
    const shown = x > screen[0] && x < screen[2];
    if (x < view[0] || x > view[2] || y < view[1] || y > view[3]) return false;
    const around = [[0, 0], [0, -size * 1.8], [0, size * 1.8], [size * 2.2, 0], [-size * 2.2, 0]];
    for (const [dx, dy] of offsets || (still ? [[0, 0]] : around)) {
      const box = [x + dx - wide / 2, y + dy - high / 2, x + dx + wide / 2, y + dy + high / 2];
      if (within && (dx || dy) && (box[0] < within[0] || box[1] < within[1] || box[2] > within[2] || box[3] > within[3])) continue;
      if (shown && !still && (box[0] < screen[0] || box[2] > screen[2])) continue;
      if (taken.some((other) => box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3])) continue;
      taken.push(box);
      lines.forEach((line, i) => text(line, x + dx, box[1] + size * (0.95 + 1.2 * i), size));
      return true;
    }
    return false;
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
  /* Laterals along a curve: whole lines, and for a label two places on each some way apart. */
  function traceCurves(block, every, numbers, step) {
    block.lines_w.forEach((line, index) => {
      if (block.lateral[index] % step || !inView(block.line_boxes_w[index])) return;
      let begun = null, named = step > 1 || block.lateral[index] % every !== 0;
      for (let i = 0; i < line.length; i += 2) {
        const x = line[i] * scale - shiftX, y = line[i + 1] * scale - shiftY;
        if (i === 0) ctx.moveTo(x, y);
        else ctx.lineTo(x, y);
        if (named) continue;
        const shown = x > screen[0] && x < screen[2] && y > screen[1] && y < screen[3];
        if (begun && Math.hypot(x - begun[0], y - begun[1]) > 62) {
          numbers.push([block.lateral[index], [...begun, x, y]]);
          named = true;
        } else if (shown && !begun) begun = [x, y];
      }
    });
  }
  /* Laterals only when three pixels or more apart, and only those in view: never more than a screen full. */
  function drawLaterals(metres) {
    const corners = [[0, 0], [1, 0], [0, 1], [1, 1]].map(([i, j]) => {
      const at = map.layerPointToLatLng([view[i ? 2 : 0], view[j ? 3 : 1]]);
      return [at.lng, at.lat];
    });
    const numbers = [];
    for (const block of data.blocks) {
      const apart = block.spacing_m / metres;
      /* Far out, a curve that stands for many shows which way they run. */
      const step = apart < 3 ? Math.ceil(10 / apart) : 1;
      if ((step > 1 && !block.lines_w) || !block.lateral.length || !block.boxes_w.some(inView)) continue;
      ctx.strokeStyle = overPhoto() ? "#fff" : "#1b4f72";
      ctx.lineWidth = Math.min(2, Math.max(0.6, apart / 7));
      ctx.beginPath();
      const every = [1, 2, 5, 10, 20, 50, 100].find((step) => step * apart >= 30) || 200;
      if (block.lines_w) {
        traceCurves(block, every, numbers, step);
        ctx.stroke();
        continue;
      }
      const across = corners.map(([lon, lat]) => {
        const [x, y] = toXy(block, lon, lat);
        return (x - block.origin[0]) * block.across[0] + (y - block.origin[1]) * block.across[1];
      });
      const number = (c) => 1 + (c - block.first_m) / block.spacing_m;
      const from = Math.ceil(number(Math.min(...across))), to = Math.floor(number(Math.max(...across)));
      for (let i = firstPiece(block, from); i < block.lateral.length && block.lateral[i] <= to; i += 1) {
        const c = block.first_m + (block.lateral[i] - 1) * block.spacing_m;
        const ends = [block.start[i], block.stop[i]].map((s) => toPx(world(...toLonLat(
          block,
          block.origin[0] + s * block.along[0] + c * block.across[0],
          block.origin[1] + s * block.along[1] + c * block.across[1],
        ))));
        const seen = clip(view, [...ends[0], ...ends[1]]);
        if (!seen) continue;
        ctx.moveTo(seen[0], seen[1]);
        ctx.lineTo(seen[2], seen[3]);
        if (block.lateral[i] % every === 0 || every === 1) numbers.push([block.lateral[i], seen]);
      }
      ctx.stroke();
    }
    return numbers;
  }
  function labelLaterals(numbers) {
    for (const [number, line] of numbers) {
      const seen = clip(screen, line);
      if (!seen) continue;
      const [x1, y1, x2, y2] = seen;
      const long = Math.hypot(x2 - x1, y2 - y1), reach = Math.min(0.5, 120 / Math.max(long, 1));
      if (long > 60) label([String(number)], x1 + reach * (x2 - x1), y1 + reach * (y2 - y1), 15, { still: true });
    }
  }

  function symbolPath(status, x, y, size) {
    ctx.beginPath();
    const corners = data.symbols.shapes[status];
    if (!corners) ctx.arc(x, y, data.symbols.radius * size, 0, 2 * Math.PI);
    else corners.forEach(([dx, dy], i) => (i ? ctx.lineTo(x + dx * size, y + dy * size) : ctx.moveTo(x + dx * size, y + dy * size)));
    ctx.closePath();
  }
  function drawSymbol(flag, x, y) {
    ctx.lineJoin = "round";
    symbolPath(flag.status, x, y, symbolSize);
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = flag === chosen ? 16 : 9;
    if (flag === chosen) { ctx.strokeStyle = "#000"; ctx.stroke(); ctx.strokeStyle = "#fff"; ctx.lineWidth = 10; }
    ctx.stroke();
    ctx.fillStyle = data.symbols.fills[flag.status];
    ctx.fill();
    ctx.strokeStyle = "#000";
    ctx.lineWidth = 2.5;
    ctx.stroke();
    const number = String(flag.number);
    ctx.font = `bold ${(number.length < 3 ? 16 : 12) * Math.max(symbolSize, 0.75)}px system-ui, "Liberation Sans", Arial, sans-serif`;
    ctx.textAlign = "center";
    ctx.textBaseline = "alphabetic";
    ctx.fillStyle = data.symbols.inks[flag.status];
    ctx.fillText(number, x, y + data.symbols.down[flag.status] * symbolSize);
  }
  /* Flags at one spot stand beside each other with a line to the spot, up to 300 in view. */
  function placeFlags() {
    drawnFlags = [];
    const seen = data.flags
      .filter((flag) => flag.at)
      .map((flag) => ({ flag, spot: toPx(flag.at_w) }))
      .filter(({ spot: [x, y] }) => x > view[0] && x < view[2] && y > view[1] && y < view[3]);
    const works = on.points ? data.points.filter(({ kind }) => kind !== "pivot-point").map((point) => toPx(point.at_w)) : [];
    const spots = seen.map(({ spot }) => spot);
    let places;
    /* Full size where there is room; smaller on a crowded screen, so that flags stay near their spots. */
    for (symbolSize of [1, 0.82, 0.66]) {
      places = spread(spots, works, 42 * symbolSize);
      const far = places.filter(([x, y], i) => Math.hypot(x - spots[i][0], y - spots[i][1]) > 45 * symbolSize);
      if (far.length <= spots.length / 10) break;
    }
    const half = 22 * symbolSize;
    seen.forEach(({ flag, spot }, i) => {
      const place = places[i];
      drawnFlags.push({ flag, spot, place });
      taken.push([place[0] - half, place[1] - half, place[0] + half, place[1] + half]);
    });
  }
  /* Places for symbols: those that stand alone keep their spot, the rest take a free place near by. */
  function spread(spots, works, apart) {
    const free = (x, y, others) => others.every(([px, py]) => Math.hypot(px - x, py - y) >= apart - 1e-6);
    if (spots.length > 300) return spots;
    const alone = spots.map((spot, i) => free(...spot, [...works, ...spots.filter((_, j) => j !== i)]));
    const places = spots.filter((_, i) => alone[i]).concat(works);
    return spots.map((spot, i) => {
      if (alone[i]) return spot;
      const place = choices(spot, apart).find(([x, y]) => free(x, y, places)) || spot;
      places.push(place);
      return place;
    });
  }
  /* The spot itself, then rings about it; what would leave the screen comes last. */
  function choices([x, y], apart) {
    const all = [[x, y]];
    for (let half = 1; half <= 8; half += 1) {
      for (let turn = 0; turn < 16; turn += 1) {
        const angle = (turn * Math.PI) / 8, far = (apart * half) / 2;
        all.push([x + far * Math.cos(angle), y + far * Math.sin(angle)]);
      }
    }
    const onScreen = ([px, py]) => px > screen[0] + 22 && px < screen[2] - 22 && py > screen[1] + 22 && py < screen[3] - 22;
    return [...all.filter(onScreen), ...all.filter((at) => !onScreen(at))];
  }
  function drawLeaders() {
    ctx.strokeStyle = "#000";
    ctx.lineWidth = 2;
    for (const { spot, place } of drawnFlags) {
      if (spot === place) continue;
      ctx.beginPath();
      ctx.moveTo(...spot);
      ctx.lineTo(...place);
      ctx.stroke();
      dotAt(spot, 4);
    }
  }
  function drawFlags() {
    /* Worst first in the list, so drawn last and on top. */
    for (const { flag, place } of [...drawnFlags].reverse()) drawSymbol(flag, ...place);
  }
  function dotAt([x, y], radius) {
    ctx.beginPath();
    ctx.arc(x, y, radius, 0, 2 * Math.PI);
    ctx.fillStyle = "#000";
    ctx.fill();
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 2;
    ctx.stroke();
    ctx.strokeStyle = "#000";
  }
  function drawPoints() {
    for (const point of data.points) {
      const [x, y] = toPx(point.at_w);
      if (x < view[0] || x > view[2] || y < view[1] || y > view[3]) continue;
      if (point.kind === "pivot-point") { dotAt([x, y], 6); continue; }
      ctx.fillStyle = "#000";
      ctx.strokeStyle = "#fff";
      ctx.lineWidth = 2;
      ctx.fillRect(x - 12, y - 12, 24, 24);
      ctx.strokeRect(x - 12, y - 12, 24, 24);
      ctx.font = 'bold 17px system-ui, "Liberation Sans", Arial, sans-serif';
      ctx.textAlign = "center";
      ctx.fillStyle = "#fff";
      ctx.fillText(words[`${point.kind}_letter`], x, y + 6);
      taken.push([x - 13, y - 13, x + 13, y + 13]);
    }
  }
  const wide = (area) => scale * (Math.max(...area.boxes_w.map((box) => box[2])) - Math.min(...area.boxes_w.map((box) => box[0])));
  /* The field's own box on the screen: the name of a corner stays on its side of the fence. */
  const fieldBox = (name) => {
    const box = data.areas.find((area) => area.kind === "boundary" && area.field === name).boxes_w[0];
    return [...toPx(box), ...toPx(box.slice(2))];
  };
  function drawNames(metres) {
    for (const area of data.areas) if (area.kind === "boundary") label(area.lines, ...toPx(area.label_w), 17, { room: wide(area) * 1.3, offsets: [0, -1.8, 1.8, -3.6, 3.6].map((up) => [0, 17 * up]) });
    for (const point of data.points) {
      if (point.kind === "gate") continue;
      const [x, y] = toPx(point.at_w);
      if (metres < 3) label([point.name], x, y + 26, 15);
    }
    if (on.dry) for (const area of data.areas) if (area.kind === "dry-piece") label(area.lines, ...toPx(area.label_w), 16, { room: wide(area) * 1.2, within: fieldBox(area.field) });
    if (on.tracks && metres < 3.2) for (const track of data.tracks) label([String(track.tower)], ...toPx(track.label_w), 15, { still: true });
  }
  function drawRing() {
    if (!chosen || !chosen.ring || chosen.at) return;
    const [lon, lat] = chosen.ring.at, [x, y] = toPx(world(lon, lat));
    ctx.beginPath();
    /* Mercator keeps angles, so an azimuth at the pivot point is one on the screen. */
    const from = ((chosen.ring.start_deg - 90) * Math.PI) / 180, sweep = (chosen.ring.sweep_deg * Math.PI) / 180;
    ctx.arc(x, y, chosen.ring.radius_m / metresPerPixel(lat, map.getZoom()), from, from + sweep);
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 9;
    ctx.stroke();
    ctx.strokeStyle = "#000";
    ctx.lineWidth = 4;
    ctx.setLineDash([14, 8]);
    ctx.stroke();
    ctx.setLineDash([]);
  }

  /* ---- the lettered grid, so that a voice on the radio can say a cell ---- */
  function columnName(index) {
    let name = "";
    for (let left = index; left >= 0; left = Math.floor(left / 26) - 1) name = String.fromCharCode(65 + (left % 26)) + name;
    return name;
  }
  function drawGrid(metres) {
    const { west, north, lon_step: dLon, lat_step: dLat } = data.grid;
    const [farWest, south, east] = [data.bounds[0], data.bounds[1], data.bounds[2]];
    const columns = Math.ceil((east - farWest) / dLon), rows = Math.ceil((north - south) / dLat);
    const cell = (256 * dLon * Math.pow(2, map.getZoom())) / 360;
    /* Far out only every second, fifth, ... line; a cell keeps its name at every zoom. */
    const step = [1, 2, 5, 10, 20, 50].find((many) => many * cell >= 24) || 100;
    const at = (column, row) => toPx(world(west + Math.min(column, columns) * dLon, north - Math.min(row, rows) * dLat));
    ctx.strokeStyle = "#000";
    ctx.lineWidth = 1;
    ctx.setLineDash([2, 4]);
    ctx.beginPath();
    for (let i = 0; i < columns + step; i += step) { ctx.moveTo(...at(i, 0)); ctx.lineTo(...at(i, rows)); }
    for (let j = 0; j < rows + step; j += step) { ctx.moveTo(...at(0, j)); ctx.lineTo(...at(columns, j)); }
    ctx.stroke();
    ctx.setLineDash([]);
    for (let i = 0; i < columns; i += step) {
      for (let j = 0; j < rows; j += step) {
        const [x, y] = at(i + 0.5, j + 0.5);
        if (x < view[0] || x > view[2] || y < view[1] || y > view[3]) continue;
        if (cell >= 56) label([columnName(i) + (j + 1)], x, y, 15, { still: true });
        else if (i === 0 || j === 0) text(i === 0 && j === 0 ? "A1" : i === 0 ? String(j + 1) : columnName(i), x, y + 5, 13);
      }
    }
  }

  const Painter = L.Canvas.extend({
    _draw() {
      if (!this._map || !this._bounds) return;
      ctx = this._ctx;
      scale = Math.pow(2, map.getZoom());
      ({ x: shiftX, y: shiftY } = map.getPixelOrigin());
      const { min, max } = this._bounds;
      view = [min.x, min.y, max.x, max.y];
      const corner = map.containerPointToLayerPoint([0, 0]), size = map.getSize();
      screen = [corner.x, corner.y, corner.x + size.x, corner.y + size.y];
      /* No labels under the buttons, the scale bar and the north arrow. */
      taken = [
        [screen[0], screen[1], screen[2], screen[1] + 56],
        [screen[0], screen[3] - 66, screen[0] + 130, screen[3]],
        [screen[2] - 44, screen[3] - 80, screen[2], screen[3]],
      ];
      const metres = metresPerPixel(map.getCenter().lat, map.getZoom());
      closeUp = on.laterals && data.blocks.some((block) => block.spacing_m / metres >= 3);
      ctx.save();
      if (on.flags) placeFlags();
      else drawnFlags = [];
      drawAreas("edge-strips");
      drawAreas("dry-piece");
      drawAreas("wetted-area");
      drawAreas("corner-arm-sweep");
      drawAreas("bend");
      drawAreas("end-gun-ring");
      drawAreas("exclusion");
      const numbers = on.laterals ? drawLaterals(metres) : [];
      if (on.laterals) drawEnds();
      if (on.tracks) drawTracks();
      drawTouched();
      drawAreas("boundary");
      drawWays(false, metres);
      drawWays(true, metres);
      drawLeaders();
      if (on.points) drawPoints();
      if (on.grid) drawGrid(metres);
      keepClear(metres);
      if (on.names) { nameMarks(true, metres); drawNames(metres); nameMarks(false, metres); labelLaterals(numbers); }
      drawRing();
      drawFlags();
      for (const draw of overlays) draw({ ctx, toPx, world, metres, screen });
      ctx.restore();
    },
  });
  const painter = new Painter({ padding: 0.15 });

  /* ---- aerial photo: one picture a field, decoded only while its field is in view ---- */
  function layPhotos() {
    const seen = map.getBounds().pad(0.2);
    for (const photo of data.photos) {
      const [west, south, east, north] = photo.bounds;
      const wanted = on.photo && seen.intersects([[south, west], [north, east]]);
      photo.layer ||= L.imageOverlay(photo.url, [[south, west], [north, east]], { pane: "photos", alt: "" });
      if (wanted) photo.layer.addTo(map);
      else photo.layer.remove();
    }
  }

  /* ---- bubbles ---- */
  function element(name, content, css) {
    const made = document.createElement(name);
    if (content) made.textContent = content;
    if (css) made.className = css;
    return made;
  }
  function bubble(at, title, lines, { buttons = [], up = 0 } = {}) {
    const box = element("div", "", "here");
    box.append(element("h3", title), ...lines.filter(Boolean).map((line) => element("p", line)), ...buttons);
    const size = map.getSize();
    L.popup({
      maxWidth: Math.min(340, size.x - 60),
      maxHeight: Math.max(160, size.y - 150 - coveredPx()),
      minWidth: Math.min(220, size.x - 60),
      offset: [0, -up],
      autoPanPaddingTopLeft: [10, stage.querySelector(".way:not([hidden])") ? 108 : 64],
      autoPanPaddingBottomRight: [10, 16 + coveredPx()],
    }).setLatLng([at[1], at[0]]).setContent(box).openOn(map);
  }
  const place = (flag) => flag.at || (flag.ring && flag.ring.at);
  function showFlag(flag) {
    choose(flag);
    const at = place(flag);
    const lines = [
      flag.place,
      `${words.status} ${flag.state}`,
      flag.class,
      ...flag.touches,
      flag.note && `${words.note} ${flag.note}`,
      ...flag.clashes,
      !flag.at && (flag.ring ? words.on_machine : flag.on_move ? words.on_move : words.no_place),
    ];
    const drawn = drawnFlags.find((one) => one.flag === flag);
    if (drawn) {
      const { lng, lat } = map.layerPointToLatLng(drawn.place);
      bubble([lng, lat], flag.title, lines, { up: 16 });
    } else if (at) bubble(at, flag.title, lines);
    say(at ? fill(words.shown, flag) : `${flag.title}: ${words.no_place}`);
  }
  function choose(flag) {
    chosen = flag;
    for (const row of document.querySelectorAll("tr[data-flag]")) row.classList.toggle("chosen", Boolean(flag) && row.dataset.flag === flag.id);
    painter._redraw();
    tell("chosen", flag);
  }
  function goTo(flag) {
    tell("going", flag);
    if (flag.at) map.setView([flag.at[1], flag.at[0]], Math.max(map.getZoom(), 16.5), { animate: false });
    else if (flag.ring) {
      const [lon, lat] = flag.ring.at;
      map.fitBounds(L.latLng(lat, lon).toBounds(2.1 * flag.ring.radius_m), { animate: false, padding: [16, 16] });
    }
    showFlag(flag);
  }

  /* What a tap meets: a flag, else a well or gate, else the ground. */
  function tapped(event) {
    if (tapTaker) return tapTaker(event.latlng.lng, event.latlng.lat);
    const { x, y } = map.latLngToLayerPoint(event.latlng);
    const near = drawnFlags.map((drawn) => ({ ...drawn, far: Math.hypot(drawn.place[0] - x, drawn.place[1] - y) }))
      .filter(({ far }) => far <= 26).sort((a, b) => a.far - b.far);
    if (near.length > 1 && near[1].far - near[0].far < 10) return severalFlags(near.map(({ flag }) => flag));
    if (near.length) return showFlag(near[0].flag);
    choose(null);
    const at = [event.latlng.lng, event.latlng.lat];
    const point = on.points && data.points.find((one) => { const [px, py] = toPx(one.at_w); return Math.hypot(px - x, py - y) <= 24; });
    if (point) return bubble(point.at, fill(words[point.kind], point), point.lines);
    const way = wayAt(x, y);
    const w = world(...at);
    const here = data.areas.filter((area) => inside(area.lines_w, w));
    if (way) here.unshift({ field: (here[0] || way).field, words: wayWords(way, x, y) });
    if (!here.length) return map.closePopup();
    const notes = here.filter((area) => area.notes).map((area) => area.notes);
    return bubble(at, here[0].field, [...here.filter((area) => !(area.kind === "wetted-area" && on.wetted === false)).map((area) => area.words), ...notes]);
  }
  function severalFlags(flags) {
    const buttons = flags.map((flag) => {
      const button = element("button", flag.title);
      button.type = "button";
      button.addEventListener("click", () => showFlag(flag));
      return button;
    });
    bubble(flags[0].at, fill(words.several, { count: flags.length }), [], { buttons });
  }
  function inside(lines, [x, y]) {
    let odd = false;
    for (const line of lines) {
      for (let i = 0, j = line.length - 2; i < line.length; j = i, i += 2) {
        if (line[i + 1] > y !== line[j + 1] > y && x < ((line[j] - line[i]) * (y - line[i + 1])) / (line[j + 1] - line[i + 1]) + line[i]) odd = !odd;
      }
    }
    return odd;
  }

  /* ---- tools on the map ---- */
  const stage = document.getElementById("stage"), tools = document.getElementById("tools");
  const said = document.getElementById("said");
  const say = (line) => { said.textContent = line; };
  function button(content, name, act, css) {
    const made = element("button", content, css);
    made.type = "button";
    if (name) made.setAttribute("aria-label", name);
    made.addEventListener("click", act);
    return made;
  }
  function buildTools() {
    const layers = element("fieldset", "", "layers");
    layers.hidden = true;
    layers.id = "layers";
    layers.append(element("legend", words.layers));
    for (const layer of data.layers) {
      const row = element("label"), box = element("input");
      box.type = "checkbox";
      box.checked = layer.on;
      box.dataset.layer = layer.key;
      box.addEventListener("change", () => {
        on[layer.key] = box.checked;
        if (layer.key === "photo") layPhotos();
        painter._redraw();
      });
      row.append(box, element("span", layer.words));
      layers.append(row);
    }
    const open = button(words.layers, "", () => {
      layers.hidden = !layers.hidden;
      open.setAttribute("aria-expanded", String(!layers.hidden));
      if (!layers.hidden) map.closePopup();
    });
    open.setAttribute("aria-expanded", "false");
    open.setAttribute("aria-controls", "layers");
    tools.append(
      button("+", words.zoom_in, () => map.zoomIn(1, { animate: !calm }), "zoom"),
      button("\u2212", words.zoom_out, () => map.zoomOut(1, { animate: !calm }), "zoom"),
      element("span", "", "gap"),
      button(words.whole, "", () => { map.closePopup(); fit(); }),
      open,
      layers,
    );
    L.DomEvent.disableClickPropagation(tools);
    L.DomEvent.disableScrollPropagation(layers);
  }
  function buildScale() {
    const bar = document.getElementById("scale");
    const units = [[words.unit_ft, 0.3048], ["m", 1]];
    const sizes = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000, 100000];
    const parts = units.map(([unit, metre]) => {
      const words_ = element("div"), line = element("div", "", "length");
      bar.append(words_, line);
      return { unit, metre, words_, line };
    });
    const update = () => {
      const metres = metresPerPixel(map.getCenter().lat, map.getZoom());
      for (const { unit, metre, words_, line } of parts) {
        const length = sizes.filter((size) => (size * metre) / metres <= 130).pop() || sizes[0];
        words_.textContent = `${length.toLocaleString("en-US")} ${unit}`;
        line.style.width = `${(length * metre) / metres}px`;
      }
    };
    map.on("zoomend moveend", update);
    update();
  }
  function fit() {
    const [west, south, east, north] = data.bounds;
    map.fitBounds([[south, west], [north, east]], { animate: false, paddingTopLeft: [18, 60], paddingBottomRight: [18, 34] });
  }

  document.documentElement.classList.add("live");
  map.getContainer().setAttribute("role", "application");
  map.getContainer().setAttribute("aria-label", words.map);
  map.invalidateSize({ animate: false });
  fit();
  map.setMinZoom(Math.floor(map.getZoom()) - 1);
  painter.addTo(map);
  map.createPane("photos").style.zIndex = 200;
  map.on("moveend", layPhotos);
  layPhotos();
  map.on("click", tapped);
  buildTools();
  buildScale();
  window.addEventListener("resize", () => map.invalidateSize({ animate: false }));
  /* Parts of the page beside the map: each gets this one object and none knows another.
     `hear("flags" | "chosen" | "going" | "position" | "changes" | "panel" | "rest", act)` and `tell(what, detail)` pass word between them;
     `takeTaps(act | null)` gives every tap on the map to `act(lon, lat)` until it is handed back;
     `overlay(draw)` draws on top, redrawn with the map; `covering(act)` says how many pixels at the foot
     of the map are covered. */
  const core = {
    map, data, words, fill, element, button, say, bubble, fit, world, hear, tell,
    flags: data.flags,
    chosen: () => chosen,
    choose, goTo, showFlag,
    redraw: () => painter._redraw(),
    overlay: (draw) => { overlays.push(draw); },
    covering: (act) => { coveredPx = act; },
    metresPerPixel,
    takeTaps: (act) => { tapTaker = act; map.getContainer().classList.toggle("taking", Boolean(act)); },
    /* Flags that came or changed on this page get their places on the map and in the list. */
    flagsChanged: () => {
      for (const flag of data.flags) flag.at_w = flag.at ? world(...flag.at) : undefined;
      painter._redraw();
      tell("flags");
    },
    shown: {},
  };
  for (const part of ringrowParts) part(core);
  /* The parts have taken their room: what is left is the map's. */
  map.invalidateSize({ animate: false });
  fit();
  map.setMinZoom(Math.floor(map.getZoom()) - 1);
  Object.defineProperty(window, "ringrow", {
    value: Object.freeze({
      ...data.counts,
      shown: (key) => on[key],
      spot: (id) => {
        const drawn = drawnFlags.find(({ flag }) => flag.id === id);
        return drawn ? map.layerPointToContainerPoint(drawn.place) : null;
      },
      ...core.shown,
    }),
  });
}
