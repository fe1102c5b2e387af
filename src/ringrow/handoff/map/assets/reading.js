/* What is at a place, in the words of `ringrow where`, from the same values. */
ringrowParts.push((core) => {
  const { data, fill } = core, words = core.words.here.place;
  const us = data.units.length === "ft", FOOT_M = 0.3048, SAFE = 0.95;
  const commas = (number, digits) => number.toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits });
  const whole = (number) => Math.floor(Math.abs(number) + 0.5);
  const far = (length, unit) => `${commas(length, length < 100 ? 1 : 0)} ${unit}`;

  function length(metres) {
    if (!us) return metres > 3000 ? far(metres / 1000, "km") : `${commas(Math.round(metres * 10) / 10, 1)} m`;
    const feet = metres / FOOT_M;
    return feet > 10560 ? far(feet / 5280, words.miles) : `${commas(whole(feet), 0)} ${words.ft}`;
  }
  function small(metres) {
    if (us) return metres <= 3 * FOOT_M ? `${whole(metres / 0.0254)} ${words.inch}` : length(metres);
    return metres <= 1 ? `${whole(metres * 100)} cm` : length(metres);
  }
  const close = (metres) => (metres < 3 * data.units.length_m ? small(metres) : length(metres));
  const angle = (deg) => ((Math.round(deg * 10) / 10) % 360).toFixed(1);
  const compass = (deg) => words.compass[Math.round((((deg % 360) + 360) % 360) / 45) % 8];
  function chance(value) {
    if (value >= 0.995) return words.certain;
    if (value >= SAFE) return words.safe;
    return value < 0.05 ? words.rare : fill(words.in_ten, { n: Math.min(Math.max(Math.round(10 * value), 1), 9) });
  }
  function runs(numbers) {
    const found = [];
    for (const number of [...new Set(numbers)].sort((a, b) => a - b)) {
      const last = found[found.length - 1];
      if (last && number === last[1] + 1) last[1] = number;
      else found.push([number, number]);
    }
    return found.map(([low, high]) => (low === high ? String(low) : fill(words.run, { low, high }))).join(", ");
  }

  /* Lengths come in the farm's units, their keys ending in them. */
  function metres(record, name) {
    const value = record[`${name}_${data.units.length}`] ?? null;
    return value === null ? null : value * data.units.length_m;
  }
  const small_ = us ? ["in", 0.0254] : ["mm", 0.001];
  const at = (azimuth, panel) => (panel === null || panel === undefined
    ? fill(words.azimuth, { azimuth: angle(azimuth) })
    : fill(words.azimuth_panel, { azimuth: angle(azimuth), panel: angle(panel) }));
  function track(messages, offset, values) {
    const size = length(Math.abs(offset));
    if (size === length(0)) return fill(messages[0], values);
    return fill(messages[offset > 0 ? 1 : 2], { size, ...values });
  }
  const head = ({ name, inside }, text = name) => ({ name: text, head: fill(inside ? words.wets : words.wets_not, { name: text }) });

  function ground(record) {
    if (record.field === null) return outside(record.nearest_field);
    const name = record.field;
    if (!record.farmable) return fill(words.not_farmed, { name });
    return fill(record.irrigated ? words.wet : words.dry, { name });
  }
  function outside(nearest) {
    if (!nearest) return words.outside;
    const values = { name: nearest.field, length: length(metres(nearest, "distance")) };
    if (nearest.azimuth_deg === null) return fill(words.outside_near, values);
    return fill(words.outside_way, { ...values, compass: compass(nearest.azimuth_deg), azimuth: angle(nearest.azimuth_deg) });
  }
  function bent({ bend, arm }, pipe) {
    if (bend) {
      return [
        fill(words.bent[bend.at], { tower: bend.tower, turned: bend.turned_deg.toFixed(1) }),
        fill(words.along_pipe, { length: length(pipe) }),
      ];
    }
    if (!arm) return [];
    const lines = [track(words.arm_wheels, metres(arm, "wheel_offset"), { length: length(metres(arm, "along")) })];
    if (arm.azimuth_deg !== null && arm.hinge_deg !== null) {
      lines.push(fill(words.arm_stands, { at: at(arm.azimuth_deg, arm.panel_deg), angle: arm.hinge_deg.toFixed(0) }));
    }
    return lines;
  }
  function outlets(pivot) {
    if (pivot.outlet === null || !pivot.outlet_range || pivot.outlet_chance === null) return [];
    const values = { outlet: pivot.outlet, chance: chance(pivot.outlet_chance), low: pivot.outlet_range[0], high: pivot.outlet_range[1] };
    return [fill(pivot.outlet_chance >= SAFE ? words.outlet : words.outlets, values)];
  }
  function pivot(record, sigma) {
    const distance = metres(record, "distance"), spread = 1.96 * sigma;
    let turn = words.at_point;
    if (record.azimuth_deg !== null) {
      const degrees = Math.max((Math.atan2(spread, distance) * 180) / Math.PI, 0.1);
      turn = fill(words.azimuth_spread, { azimuth: at(record.azimuth_deg, record.panel_deg), spread: degrees.toFixed(1) });
    }
    return {
      ...head(record),
      inside: record.inside,
      main: [
        fill((record.inside ? words.parts : words.dry_parts)[record.part], { span: record.span }),
        track(words.track, metres(record, "tower_offset"), { tower: record.tower }),
      ],
      lines: [
        fill(words.give_or_take, { distance: fill(words.from_point, { length: length(distance) }), spread: close(spread) }),
        turn,
        ...bent(record, metres(record, "pipe")),
        ...outlets(record),
      ],
    };
  }
  function move(record) {
    const travel = metres(record, "travel"), off = metres(record, "tower_offset");
    const parts = (record.inside ? words.move_parts : words.dry_move_parts)[record.part];
    return {
      ...head(record),
      inside: record.inside,
      main: [
        fill(parts, { span: record.span, side: words.sides[record.side] }),
        record.tower !== null && track(record.side === "left" ? words.left_track : words.right_track, off || 0, { tower: record.tower }),
      ].filter(Boolean),
      lines: [
        travel === null ? words.no_travel : fill(words.travel, { length: length(travel) }),
        fill(words.off_cart[record.side], { length: length(metres(record, "cart")) }),
      ],
    };
  }
  function drip(record) {
    const zone = record.zone && (record.zone.length > 2 ? record.zone : fill(words.zone, { zone: record.zone }));
    const said = { ...head(record, zone ? `${record.name}, ${zone}` : record.name), inside: record.inside };
    if (record.lateral === null) return { ...said, main: [words.no_tape], lines: [] };
    const lines = [fill(words.station, { length: length(metres(record, "station") || 0) })];
    if (record.emitter !== null) lines.push(fill(words.emitter, { number: record.emitter }));
    const [main, ...more] = laterals(record);
    return { ...said, main: [main], lines: [...more, ...lines] };
  }
  function laterals(record) {
    const piece = record.piece ? fill(words.piece, { letter: record.piece }) : "", nearest = record.lateral + piece;
    const [best] = record.candidates;
    if (!best) return [record.elsewhere < SAFE ? words.too_coarse : words.no_reach, fill(words.nearest_tape, { lateral: nearest })];
    const offset = aside((record[`offset_${small_[0]}`] || 0) * small_[1]);
    if (best.chance >= SAFE) {
      return [fill(words.lateral, { lateral: best.lateral + piece, chance: chance(best.chance), offset })];
    }
    const could = runs(record.candidates.map((each) => each.lateral));
    const lines = [fill(words.most_likely, { lateral: best.lateral, chance: chance(best.chance), could })];
    if (record.elsewhere >= 0.05) lines.push(fill(words.elsewhere, { chance: chance(record.elsewhere) }));
    return [...lines, fill(words.measured, { offset, lateral: nearest })];
  }
  function aside(offset) {
    const size = small(Math.abs(offset));
    if (size === small(0)) return size;
    return fill(offset > 0 ? words.higher : words.lower, { size });
  }

  /* Systems that wet the place come first; else in the order of the answer. */
  core.reading = (record, sigma) => {
    const systems = [
      ...record.pivots.map((each) => pivot(each, sigma)),
      ...record.lateral_moves.map(move),
      ...record.drip.map(drip),
    ];
    return { ground: ground(record), systems: [...systems.filter((each) => each.inside), ...systems.filter((each) => !each.inside)] };
  };
  core.said = { length, small, close, angle, compass, chance };
});
