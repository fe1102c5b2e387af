/* Where a place lies in a block of buried tape: nearest lateral, piece, station, emitter, likely laterals. */
const ringrowRows = (() => {
  const { covers, unpackRings, unfold } = ringrowEarth;
  const TIE_M = 1e-9, ROUNDING = 1e-6;

  /* a, b, ... z, aa, ab, ... */
  function pieceName(letter) {
    const rest = Math.floor(letter / 26);
    return (rest ? pieceName(rest - 1) : "") + String.fromCharCode(97 + (letter % 26));
  }

  /* Every piece of tape: its ends along its lateral's line, and the first piece of each lateral. */
  function unpackTape(raw, step) {
    const first = new Int32Array(raw.count + 2), letter = new Int32Array(raw.start.length);
    let lateral = 1, piece = 0;
    for (const [pieces, times] of raw.pieces) {
      for (let i = 0; i < times; i += 1, lateral += 1) {
        first[lateral] = piece;
        for (let at = 0; at < pieces; at += 1, piece += 1) letter[piece] = at;
      }
    }
    first[raw.count + 1] = piece;
    const start = unfold(raw.start, step, letter), stop = unfold(raw.stop, step, letter);
    const zero = Float64Array.from(first, (at) => start[at]);
    for (const [number, value] of raw.zero) zero[number] = value * step;
    return { first, start, stop, zero };
  }
  /* First piece of a lateral that does not end before `s`; past its last piece when all do. */
  function pieceFrom({ first, stop }, lateral, s) {
    let low = first[lateral], high = first[lateral + 1];
    while (low < high) {
      const half = (low + high) >> 1;
      if (stop[half] < s) low = half + 1;
      else high = half;
    }
    return low;
  }

  /* ---- straight laterals: a place is two numbers, along the rows and across them ---- */
  function straight(raw, tape) {
    const { origin, along, across } = raw;
    return (x, y) => {
      const dx = x - origin[0], dy = y - origin[1];
      const s = dx * along[0] + dy * along[1], c = dx * across[0] + dy * across[1];
      const nearestOn = (lateral, level) => {
        const next = pieceFrom(tape, lateral, s), found = [];
        for (const piece of [next - 1, next]) {
          if (piece < tape.first[lateral] || piece >= tape.first[lateral + 1]) continue;
          const kept = Math.min(Math.max(s, tape.start[piece]), tape.stop[piece]);
          found.push({ piece, s: kept, away: Math.hypot(s - kept, c - level) });
        }
        return found;
      };
      return { across: c, slack: 0, along: () => s, nearestOn, offset: (_, level) => c - level };
    };
  }

  /* ---- laterals along a curve: offset curves of one guidance line ---- */
  /* The line's edges on one side; where it turns away, edges of no length make the arc about its corner. */
  function sideEdges(guide, { turn, arcs, vanishes }) {
    const edges = [];
    const add = (at, ux, uy) => edges.push({ at, nx: turn * uy, ny: -turn * ux, vanishes: Infinity });
    for (let i = 0, before = 0; i + 1 < guide.length; i += 1) {
      const dx = guide[i + 1][0] - guide[i][0], dy = guide[i + 1][1] - guide[i][1], length = Math.hypot(dx, dy);
      const direction = Math.atan2(dy, dx), count = i ? arcs[i - 1] + 1 : 1;
      const bend = direction - before - 2 * Math.PI * Math.round((direction - before) / (2 * Math.PI));
      for (let step = 1; step < count; step += 1) {
        const toward = before + (step / count) * bend;
        add(guide[i], Math.cos(toward), Math.sin(toward));
      }
      add(guide[i], dx / length, dy / length);
      before = direction;
    }
    for (const [edge, distance] of vanishes) edges[edge].vanishes = distance;
    return edges;
  }
  /* Where the offsets of two edges meet, the first one's line having moved on by what lies between them. */
  function meeting(one, two, distance) {
    const short = one.nx * (one.at[0] - two.at[0]) + one.ny * (one.at[1] - two.at[1]);
    const cross = one.nx * two.ny - one.ny * two.nx, same = 1 + one.nx * two.nx + one.ny * two.ny;
    const back = Math.abs(short) < TIE_M ? 0 : short / cross;
    const [sx, sy] = same > 1e-9 ? [(one.nx + two.nx) / same, (one.ny + two.ny) / same] : [one.nx, one.ny];
    return [two.at[0] + back * two.ny + distance * sx, two.at[1] - back * two.nx + distance * sy];
  }
  function offsetCurve(edges, end, distance) {
    const corners = [];
    let before = null;
    for (const edge of edges) {
      if (edge.vanishes <= distance) continue;
      corners.push(before ? meeting(before, edge, distance) : [edge.at[0] + distance * edge.nx, edge.at[1] + distance * edge.ny]);
      before = edge;
    }
    corners.push([end[0] + distance * before.nx, end[1] + distance * before.ny]);
    return measured(corners);
  }
  /* A line with the distance along it at each corner. */
  function measured(corners) {
    const x = Float64Array.from(corners, (at) => at[0]), y = Float64Array.from(corners, (at) => at[1]);
    const s = new Float64Array(corners.length);
    for (let i = 1; i < s.length; i += 1) s[i] = s[i - 1] + Math.hypot(x[i] - x[i - 1], y[i] - y[i - 1]);
    return { x, y, s };
  }
  /* The place on a line, or on the part of it between two distances along it, that is nearest. */
  function onLine(line, x, y, from = -Infinity, to = Infinity) {
    let best = Infinity, at = 0, edge = 0;
    for (let i = 1; i < line.s.length && line.s[i - 1] <= to; i += 1) {
      const s0 = line.s[i - 1], length = line.s[i] - s0;
      if (line.s[i] < from || length === 0) continue;
      const dx = x - line.x[i - 1], dy = y - line.y[i - 1];
      const ux = (line.x[i] - line.x[i - 1]) / length, uy = (line.y[i] - line.y[i - 1]) / length;
      const kept = Math.min(Math.max(dx * ux + dy * uy, 0, from - s0), length, to - s0);
      const squared = (dx - kept * ux) ** 2 + (dy - kept * uy) ** 2;
      if (squared < best) [best, at, edge] = [squared, s0 + kept, i];
    }
    return { s: at, away: Math.sqrt(best), edge };
  }
  /* Which side of the line, 1 for the right: at a corner by the mean of both edges' directions. */
  function sideOf(line, { s, edge }, x, y) {
    const direction = (i) => {
      const length = line.s[i] - line.s[i - 1];
      return [(line.x[i] - line.x[i - 1]) / length, (line.y[i] - line.y[i - 1]) / length];
    };
    const next = s - line.s[edge - 1] < 1e-6 ? edge - 1 : line.s[edge] - s < 1e-6 ? edge + 1 : edge;
    const corner = Math.min(edge, next), [ux, uy] = direction(edge);
    const [vx, vy] = next >= 1 && next < line.s.length ? direction(next) : [ux, uy];
    const at = next === edge ? edge - 1 : next < 1 ? 0 : corner;
    return (x - line.x[at]) * (uy + vy) - (y - line.y[at]) * (ux + vx) > 0 ? 1 : -1;
  }
  function curved(raw, tape) {
    const { guide, guide_across_m } = raw, end = guide[guide.length - 1];
    const sides = [sideEdges(guide, raw.lower), sideEdges(guide, raw.higher)], line = measured(guide), drawn = new Map();
    /* Somebody who walks asks about the same laterals again; a few hundred are little to keep. */
    const lineAt = (level) => {
      const away = level - guide_across_m;
      if (drawn.size > 500) drawn.clear();
      if (!drawn.has(level)) drawn.set(level, offsetCurve(sides[away < 0 ? 0 : 1], end, Math.abs(away)));
      return drawn.get(level);
    };
    return (x, y) => {
      const own = onLine(line, x, y);
      const c = guide_across_m + own.away * sideOf(line, own, x, y) * raw.higher.turn;
      const nearestOn = (lateral, level) => {
        const found = [];
        if (tape.first[lateral] === tape.first[lateral + 1]) return found;
        const row = lineAt(level);
        for (let piece = tape.first[lateral]; piece < tape.first[lateral + 1]; piece += 1) {
          const { s, away } = onLine(row, x, y, tape.start[piece], tape.stop[piece]);
          found.push({ piece, s, away });
        }
        return found;
      };
      const along = (_, level) => onLine(lineAt(level), x, y).s;
      /* Curves are drawn within a millimetre, so a lateral may be that much nearer than its level says. */
      const offset = (_, level) => Math.sign(c - level) * onLine(lineAt(level), x, y).away;
      return { across: c, slack: 0.004, along, nearestOn, offset };
    };
  }

  /* ---- a block, straight or curved ---- */
  function block(raw, field, steps) {
    const tape = unpackTape(raw, steps.end_m), spot = (raw.guide ? curved : straight)(raw, tape);
    const area = raw.area ? unpackRings(raw.area, steps.corner_m) : field.boundary;
    const under = [...field.pivots, ...field.lateral_moves].filter(
      (system) => raw.not_under.includes(system.name) || (system.machine && raw.not_under.includes(system.machine)),
    );
    const level = (lateral) => raw.first_m + (lateral - 1) * raw.spacing_m;
    /* Half way between two laterals the lower number wins. */
    const beside = (across) => Math.min(Math.max(Math.ceil((across - raw.first_m) / raw.spacing_m - 0.5 - TIE_M) + 1, 1), raw.count);

    const holdsTape = (x, y) =>
      covers(area, x, y) && !covers(field.exclusions, x, y) && !under.some((system) => system.wets(x, y));
    function wets(here, x, y) {
      const lateral = beside(here.across);
      if (!tape.start.length || Math.abs(here.across - level(lateral)) > raw.spacing_m / 2 + TIE_M) return false;
      const s = here.along(lateral, level(lateral)), piece = pieceFrom(tape, lateral, s);
      return piece < tape.first[lateral + 1] && tape.start[piece] <= s && holdsTape(x, y);
    }
    /* Laterals are looked through outward from the nearest number, until none can be nearer any more. */
    function nearest(here) {
      const middle = beside(here.across);
      let best = null;
      const look = (lateral) => {
        if (lateral < 1 || lateral > raw.count) return false;
        if (best && Math.abs(here.across - level(lateral)) - here.slack > best.away + TIE_M) return false;
        for (const found of here.nearestOn(lateral, level(lateral))) {
          const nearer = best ? best.away - found.away : Infinity;
          if (nearer > TIE_M || (nearer >= -TIE_M && found.piece < best.piece)) best = { ...found, lateral };
        }
        return true;
      };
      let [down, up] = [look(middle), true];
      for (let step = 1; down || up; step += 1) {
        down = down && look(middle - step);
        up = up && look(middle + step);
      }
      return best;
    }
    /* Emitter n sits at station (n - 1/2) spacings; only those on the nearest piece are named. */
    function emitter({ lateral, piece, s }) {
      if (raw.emitter_m === null) return null;
      const number = (at) => (at - tape.zero[lateral]) / raw.emitter_m;
      const lowest = Math.ceil(number(tape.start[piece]) + 0.5 - ROUNDING);
      const highest = Math.floor(number(tape.stop[piece]) + 0.5 + ROUNDING);
      if (highest < lowest) return null;
      return Math.min(Math.max(Math.ceil(number(s) - ROUNDING), lowest), highest) || null;
    }
    function hasTape(here) {
      return (lateral, near) => {
        if (tape.first[lateral] === tape.first[lateral + 1]) return false;
        const s = here.along(lateral, level(lateral)), piece = pieceFrom(tape, lateral, s - near);
        return piece < tape.first[lateral + 1] && tape.start[piece] <= s + near;
      };
    }

    function see(x, y, sigma) {
      const here = spot(x, y), best = tape.start.length ? nearest(here) : null;
      const chances = best
        ? ringrowChances.laterals(raw, here.across, sigma, hasTape(here))
        : { candidates: [], elsewhere: 1 };
      const zone = best && raw.zones.find(([, first, last]) => first <= best.lateral && best.lateral <= last);
      const pieces = best && tape.first[best.lateral + 1] - tape.first[best.lateral];
      return {
        away_m: best ? best.away : Infinity,
        name: raw.name,
        assumed: raw.assumed,
        zone: zone ? zone[0] : null,
        lateral: best && best.lateral,
        piece: best && pieces > 1 ? pieceName(best.piece - tape.first[best.lateral]) : null,
        offset_m: best && here.offset(best.lateral, level(best.lateral)),
        station_m: best && best.s - tape.zero[best.lateral],
        emitter: best && emitter(best),
        ...chances,
        inside: wets(here, x, y),
      };
    }
    return { name: raw.name, see };
  }

  return Object.freeze({ block });
})();
