/* Where a place lies on a machine: a pivot with its gun, bends and corner arm, or a lateral move.
   Everything is metres and bearings of the field's frame; a true azimuth is one less the convergence. */
const ringrowMachines = (() => {
  const { RAD, turned, bearing, unfold } = ringrowEarth;
  const AT_THE_POINT_M = 0.1 * 0.3048, SLACK = 1e-9;
  const PARTS = ["span", "overhang", "throw", "gun", "beyond"], MOVE_PARTS = ["span", "overhang", "throw", "beyond"];

  const passed = (limits, value) => limits.filter((limit) => value > limit).length;
  /* Signed angle, -180 to 180; not a number stays that. */
  const lean = (deg) => ((((deg + 180) % 360) + 360) % 360) - 180;

  /* ---- outer spans that walk on past a stop ---- */
  /* Each bend turns about a tower that the bends before it have moved. */
  function bendCourse(pivot) {
    const course = [];
    for (const at of pivot.sector ? ["start", "stop"] : []) {
      const sign = at === "stop" ? 1 : -1;
      let [x, y] = pivot.at, walked = 0;
      let toward = pivot.sector[0] + (at === "stop" ? pivot.sector[1] : 0) + pivot.convergence_deg;
      for (const [, tower, sweep] of pivot.bends.filter((bend) => bend[0] === at)) {
        const radius = pivot.towers_m[tower - 1];
        x += (radius - walked) * Math.sin(toward * RAD);
        y += (radius - walked) * Math.cos(toward * RAD);
        course.push({ at, tower, sweep, radius, x, y, toward, sign });
        walked = radius;
        toward += sign * sweep;
      }
    }
    return course;
  }
  function bendAt(pivot, course, x, y) {
    for (const bend of course) {
      const away = Math.hypot(x - bend.x, y - bend.y);
      const turn = turned(bend.sign * (bearing(x - bend.x, y - bend.y) - bend.toward) + SLACK);
      if (away <= pivot.base_m - bend.radius + SLACK && turn <= bend.sweep + 2 * SLACK) {
        const turned_deg = Math.min(Math.max(turn - SLACK, 0), bend.sweep);
        return { at: bend.at, tower: bend.tower, turned_deg, pipe_m: bend.radius + away };
      }
    }
    return null;
  }

  /* ---- a corner arm: the hinge angle at every bearing of the main pipe ---- */
  function armCourse(pivot, arm, step) {
    const angle = Array.from(unfold(arm.angles, step));
    const last = arm.full_circle ? arm.first_deg + 360 : arm.last_deg;
    if (arm.full_circle) angle.push(angle[0]);
    const each = (last - arm.first_deg) / (angle.length - 1);
    const bearings = angle.map((_, i) => arm.first_deg + i * each);
    const angleAt = (deg) => {
      let turn = turned(deg - arm.first_deg);
      if (!arm.full_circle && turn > (last - arm.first_deg + 360) / 2) turn = 0;
      const place = Math.min(turn / each, angle.length - 1), i = Math.min(Math.floor(place), angle.length - 2);
      return angle[i] + (place - i) * (angle[i + 1] - angle[i]);
    };
    return { angle, bearings, angleAt, strips: armStrips(pivot, arm, { angle, bearings, angleAt }) };
  }
  /* Where a piece of the arm stands at each position, inner end and outer: what wets, and what its gun adds. */
  function armStrips(pivot, arm, { angle, bearings, angleAt }) {
    const strip = (degrees, angles, inner, outer) => {
      const ends = new Float64Array(4 * degrees.length);
      degrees.forEach((deg, i) => {
        const toward = deg * RAD, out = (arm.trailing ? deg - 180 + angles[i] : deg + 180 - angles[i]) * RAD;
        const x = pivot.at[0] + arm.hinge_m * Math.sin(toward), y = pivot.at[1] + arm.hinge_m * Math.cos(toward);
        ends.set([x + inner * Math.sin(out), y + inner * Math.cos(out), x + outer * Math.sin(out), y + outer * Math.cos(out)], 4 * i);
      });
      return ends;
    };
    const made = [strip(bearings, angle, 0, arm.reach_m)];
    if (arm.gun_m === null) return made;
    for (const arc of arm.gun_arcs === "full" ? [null] : arm.gun_arcs) {
      let degrees = bearings;
      if (arc) {
        const start = arc[0] + pivot.convergence_deg;
        const between = bearings.map((deg) => turned(deg - start)).filter((turn) => turn > SLACK && turn < arc[1] - SLACK);
        degrees = [0, ...between.sort((a, b) => a - b), arc[1]].map((turn) => start + turn);
      }
      made.push(strip(degrees, arc ? degrees.map(angleAt) : angle, arm.reach_m, arm.gun_m));
    }
    return made;
  }
  function inTriangle(x1, y1, x2, y2, x3, y3, x, y) {
    const one = (x2 - x1) * (y - y1) - (y2 - y1) * (x - x1), two = (x3 - x2) * (y - y2) - (y3 - y2) * (x - x2);
    const three = (x1 - x3) * (y - y3) - (y1 - y3) * (x - x3);
    return (one >= 0 && two >= 0 && three >= 0) || (one <= 0 && two <= 0 && three <= 0);
  }
  /* Between two positions a piece covers the convex hull of its four ends: their four triangles together. */
  function inStrip(ends, x, y) {
    for (let i = 4; i < ends.length; i += 4) {
      const [x1, y1, x2, y2] = [ends[i - 4], ends[i - 3], ends[i - 2], ends[i - 1]];
      const [x3, y3, x4, y4] = [ends[i + 2], ends[i + 3], ends[i], ends[i + 1]];
      if (x < x1 && x < x2 && x < x3 && x < x4) continue;
      if (x > x1 && x > x2 && x > x3 && x > x4) continue;
      if ((y < y1 && y < y2 && y < y3 && y < y4) || (y > y1 && y > y2 && y > y3 && y > y4)) continue;
      if (inTriangle(x1, y1, x2, y2, x3, y3, x, y) || inTriangle(x1, y1, x3, y3, x4, y4, x, y)) return true;
      if (inTriangle(x1, y1, x2, y2, x4, y4, x, y) || inTriangle(x2, y2, x3, y3, x4, y4, x, y)) return true;
    }
    return false;
  }

  /* Hinge, pivot point and a point of the arm make a triangle. Its distance and the hinge angle settle how far
     along the arm it would have to lie, and on which bearing; where that is its own, the arm lies over it. */
  function armAt(arm, { angle, bearings, angleAt }, distance, toward) {
    let best = null;
    for (const root of arm.folds_in ? [1, -1] : [1]) {
      const along = (deg) => {
        const turn = deg * RAD, under = distance * distance - (arm.hinge_m * Math.sin(turn)) ** 2;
        return under < 0 ? NaN : arm.hinge_m * Math.cos(turn) + root * Math.sqrt(under);
      };
      const apart = (deg, inner) => {
        const out = along(inner), turn = inner * RAD;
        const behind = Math.atan2(out * Math.sin(turn), arm.hinge_m - out * Math.cos(turn)) / RAD;
        return lean(deg - (arm.trailing ? behind : -behind) - toward);
      };
      let before = apart(bearings[0], angle[0]);
      for (let i = 1; i < bearings.length; i += 1) {
        const here = apart(bearings[i], angle[i]);
        /* A jump by a whole turn on the far side of the circle is no passage. */
        if (before >= 0 !== here >= 0 && Math.abs(before - here) < 90) {
          let low = bearings[i - 1], high = bearings[i];
          for (let halving = 0; halving < 40; halving += 1) {
            const half = (low + high) / 2;
            if (apart(half, angleAt(half)) >= 0 === before >= 0) low = half;
            else high = half;
          }
          const deg = (low + high) / 2, inner = angleAt(deg), out = along(inner);
          /* Of several passages the one nearest the hinge. */
          if (out >= 0 && out <= arm.farthest_m + 1e-6 && !(best && best.along_m <= out)) {
            best = { along_m: out, bearing_deg: deg, hinge_deg: inner };
          }
        }
        before = here;
      }
    }
    return best;
  }

  /* ---- pivots ---- */
  function inArc(start, sweep, deg) {
    return turned(deg - start + SLACK) <= sweep + 2 * SLACK;
  }
  function pivotMachine(raw, angle_step) {
    const [x0, y0] = raw.at, bends = bendCourse(raw), arm = raw.arm, towers = raw.towers_m;
    let course = null;
    /* Thousands of positions: worked out when a place near enough is asked about, or before, in a quiet moment. */
    const courseOf = () => (course ||= armCourse(raw, arm, angle_step));
    const armNear = (distance) => arm !== null && distance <= arm.hinge_m + arm.farthest_m + 1e-6;
    const midway = towers.slice(1).map((radius, i) => (radius + towers[i]) / 2);
    const gun_m = raw.gun_m === null ? raw.base_m : Math.max(raw.gun_m, raw.base_m);
    const panel = (azimuth) => (azimuth === null || raw.panel_zero_deg === null ? null : turned(azimuth - raw.panel_zero_deg));

    const walks = (azimuth) => raw.sector === null || inArc(...raw.sector, azimuth);
    const guns = (azimuth) => raw.gun_arcs === "full" || raw.gun_arcs.some((arc) => inArc(...arc, azimuth));
    function wetsAt(x, y) {
      const distance = Math.hypot(x - x0, y - y0), azimuth = turned(bearing(x - x0, y - y0) - raw.convergence_deg);
      const base = distance <= raw.base_m && walks(azimuth);
      if (base || (distance <= gun_m && walks(azimuth) && guns(azimuth))) return { base, inside: true };
      const swept = () => armNear(distance) && courseOf().strips.some((ends) => inStrip(ends, x, y));
      return { base, inside: bendAt(raw, bends, x, y) !== null || swept() };
    }

    /* The part, and the arm's passage, where a corner arm reaches on past the main pipe. */
    function withArm(part, toward, distance, { base, inside }) {
      if (!arm) return { part, passage: null };
      const asked = armNear(distance) && (part !== "span" || (inside && !base));
      const passage = asked ? armAt(arm, courseOf(), distance, toward) : null;
      if (passage) return { part: passage.along_m <= arm.reach_m + 1e-6 ? "arm" : "gun", passage };
      return { part: part === "span" ? part : "beyond", passage };
    }

    function see(x, y, sigma) {
      const distance = Math.hypot(x - x0, y - y0), toward = bearing(x - x0, y - y0);
      const azimuth = distance <= AT_THE_POINT_M ? null : turned(toward - raw.convergence_deg);
      /* The straight machine has the first word: ground within its sector is in no bend. */
      const bend = walks(turned(toward - raw.convergence_deg)) ? null : bendAt(raw, bends, x, y);
      const pipe = bend ? bend.pipe_m : distance;
      const wet = wetsAt(x, y), near = passed(midway, pipe), beyond = passed(towers, pipe);
      const plain = PARTS[passed([towers[towers.length - 1], raw.length_m, raw.base_m, gun_m], pipe)];
      const { part, passage } = withArm(plain, toward, distance, wet);
      const outlet = pipe <= raw.length_m ? ringrowChances.outlets(raw.outlets_m, pipe, sigma) : null;
      const over = passage && turned(passage.bearing_deg - raw.convergence_deg);
      return {
        name: raw.name,
        assumed: raw.assumed,
        distance_m: distance,
        azimuth_deg: azimuth,
        panel_deg: panel(azimuth),
        span: beyond < towers.length ? beyond + 1 : null,
        part,
        tower: near + 1,
        tower_offset_m: pipe - towers[near],
        outlet: outlet && outlet.outlet,
        outlet_range: outlet && outlet.range,
        outlet_chance: outlet && outlet.chance,
        inside: wet.inside,
        pipe_m: bend ? pipe : passage ? towers[towers.length - 1] + passage.along_m : distance,
        bend: bend && { at: bend.at, tower: bend.tower, turned_deg: bend.turned_deg },
        arm: passage && {
          along_m: passage.along_m,
          wheel_offset_m: passage.along_m - arm.wheel_m,
          hinge_deg: passage.hinge_deg,
          azimuth_deg: over,
          panel_deg: panel(over),
        },
      };
    }
    return { name: raw.name, machine: raw.machine, see, wets: (x, y) => wetsAt(x, y).inside, warm: arm && courseOf };
  }

  /* ---- lateral moves: a straight pipe carried square to its path, turning about the cart at corners ---- */
  function moveMachine(raw) {
    const corners = raw.corners_m, legs = [];
    for (let i = 0, start = 0; i + 1 < corners.length; i += 1) {
      const [dx, dy] = [corners[i + 1][0] - corners[i][0], corners[i + 1][1] - corners[i][1]];
      const length = Math.hypot(dx, dy);
      legs.push({ at: corners[i], ahead: [dx / length, dy / length], toward: bearing(dx, dy), length, start });
      start += length;
    }
    const left_m = raw.left.reach_m, right_m = raw.right.reach_m;

    function onLeg({ at, ahead, length, start }, x, y) {
      const dx = x - at[0], dy = y - at[1], along = dx * ahead[0] + dy * ahead[1], across = dx * ahead[1] - dy * ahead[0];
      const kept = Math.min(Math.max(along, 0), length);
      const inside = along >= 0 && along <= length && across <= right_m && across >= -left_m;
      return { travel: start + kept, offset: across, inside, away: Math.hypot(across, along - kept) };
    }
    function atCorner(before, after, x, y) {
      const dx = x - after.at[0], dy = y - after.at[1], away = Math.hypot(dx, dy), turn = lean(after.toward - before.toward);
      const sign = turn < 0 ? -1 : 1, toward = bearing(dx, dy) - before.toward;
      const right = turned(sign * (toward - 90)) <= Math.abs(turn) && away <= right_m;
      const left = turned(sign * (toward + 90)) <= Math.abs(turn) && away <= left_m;
      return { travel: after.start, offset: left && !right ? -away : away, inside: left || right, away };
    }
    /* The passage that brings the place nearest to the cart, of those whose water reaches it if any does. */
    function passage(x, y) {
      const seen = legs.map((leg) => onLeg(leg, x, y));
      for (let i = 1; i < legs.length; i += 1) seen.push(atCorner(legs[i - 1], legs[i], x, y));
      const rank = (each) => each.away + (each.inside ? 0 : 1e9);
      return seen.reduce((best, each) => (rank(each) < rank(best) ? each : best));
    }

    function see(x, y) {
      const { travel, offset, inside } = passage(x, y);
      /* On the cart itself: the side that has a pipe. */
      const hand = offset === 0 ? (raw.right.towers_m.length ? "right" : "left") : offset > 0 ? "right" : "left";
      const wing = raw[hand], towers = wing.towers_m, out = Math.abs(offset), beyond = passed(towers, out);
      let near = 0;
      towers.forEach((tower, i) => { if (Math.abs(tower - out) < Math.abs(towers[near] - out)) near = i; });
      return {
        name: raw.name,
        assumed: raw.assumed,
        travel_m: travel,
        side: hand,
        cart_m: out,
        span: beyond < towers.length ? beyond + 1 : null,
        part: towers.length ? MOVE_PARTS[passed([towers[towers.length - 1], wing.length_m, wing.reach_m], out)] : "beyond",
        tower: towers.length ? near + 1 : null,
        tower_offset_m: towers.length ? out - towers[near] : null,
        inside,
      };
    }
    return { name: raw.name, machine: "", see, wets: (x, y) => passage(x, y).inside };
  }

  return Object.freeze({ pivotMachine, moveMachine });
})();
