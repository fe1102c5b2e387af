/* Where a place is: the answers of `ringrow where`, from numbers alone. */
function ringrowWhere(data) {
  const { units, accuracy, steps } = data.where;
  const { toXy, toLonLat, unpackRings, covers, nearestOnRings, distance } = ringrowEarth;

  const fields = data.where.fields.map((raw) => {
    const field = {
      name: raw.name,
      frame: raw.frame,
      boundary: unpackRings(raw.boundary, steps.corner_m),
      exclusions: unpackRings(raw.exclusions, steps.corner_m),
      pivots: raw.pivots.map((pivot) => ringrowMachines.pivotMachine(pivot, steps.angle_deg)),
      lateral_moves: raw.lateral_moves.map(ringrowMachines.moveMachine),
    };
    return { ...field, drip: raw.drip.map((block) => ringrowRows.block(block, field, steps)) };
  });

  /* ---- records: lengths in the farm's units under keys that end in them ---- */
  const long = (metres) => (metres === null ? null : metres / units.length_m);
  const short = (metres) => (metres === null ? null : metres / units.small_m);
  const key = (name) => `${name}_${units.length}`;
  const arm = (seen) => seen && {
    [key("along")]: long(seen.along_m),
    [key("wheel_offset")]: long(seen.wheel_offset_m),
    hinge_deg: seen.hinge_deg,
    azimuth_deg: seen.azimuth_deg,
    panel_deg: seen.panel_deg,
  };
  const pivotRecord = (seen) => ({
    name: seen.name,
    [key("distance")]: long(seen.distance_m),
    azimuth_deg: seen.azimuth_deg,
    panel_deg: seen.panel_deg,
    span: seen.span,
    part: seen.part,
    tower: seen.tower,
    [key("tower_offset")]: long(seen.tower_offset_m),
    outlet: seen.outlet,
    outlet_range: seen.outlet_range,
    outlet_chance: seen.outlet_chance,
    inside: seen.inside,
    [key("pipe")]: long(seen.pipe_m),
    bend: seen.bend,
    arm: arm(seen.arm),
    assumed: seen.assumed,
  });
  const moveRecord = (seen) => ({
    name: seen.name,
    [key("travel")]: long(seen.travel_m),
    side: seen.side,
    [key("cart")]: long(seen.cart_m),
    span: seen.span,
    part: seen.part,
    tower: seen.tower,
    [key("tower_offset")]: long(seen.tower_offset_m),
    inside: seen.inside,
    assumed: seen.assumed,
  });
  const dripRecord = (seen) => ({
    name: seen.name,
    zone: seen.zone,
    lateral: seen.lateral,
    piece: seen.piece,
    [`offset_${units.small}`]: short(seen.offset_m),
    [key("station")]: long(seen.station_m),
    emitter: seen.emitter,
    candidates: seen.candidates,
    elsewhere: seen.elsewhere,
    inside: seen.inside,
    assumed: seen.assumed,
  });
  const accuracyRecord = ({ radius_m, kind, sigma_m, assumed }) => ({
    [key("radius")]: long(radius_m),
    kind,
    [key("sigma")]: long(sigma_m),
    assumed,
  });

  /* ---- the answer ---- */
  const nearestFirst = (seen, by) => seen.sort((a, b) => by(a) - by(b));
  const byPoint = (pivot) => pivot.distance_m, byCart = (move) => move.cart_m, byTape = (block) => block.away_m;

  function inField(field, [x, y], sigma) {
    const see = (system) => system.see(x, y, sigma);
    const pivots = field.pivots.map(see), moves = field.lateral_moves.map(see), drip = field.drip.map(see);
    const farmable = !covers(field.exclusions, x, y);
    return {
      field: field.name,
      farmable,
      irrigated: farmable && [...pivots, ...moves, ...drip].some((seen) => seen.inside),
      pivots: nearestFirst(pivots, byPoint).map(pivotRecord),
      drip: nearestFirst(drip, byTape).map(dripRecord),
      lateral_moves: nearestFirst(moves, byCart).map(moveRecord),
      nearest_field: null,
    };
  }
  /* Outside every field: the machines that wet the place all the same, and how far the nearest field is. */
  function outside(places, lon, lat, sigma) {
    const wetting = (kind) => fields.flatMap((field, i) =>
      field[kind].filter((system) => system.wets(...places[i])).map((system) => system.see(...places[i], sigma)));
    const near = fields.map((field, i) => {
      const edge = nearestOnRings(field.boundary, ...places[i]);
      return { field: field.name, ...distance(lon, lat, ...toLonLat(field.frame, ...edge)) };
    });
    const nearest = near.length ? nearestFirst(near, (each) => each.metres)[0] : null;
    return {
      field: null,
      farmable: false,
      irrigated: false,
      pivots: nearestFirst(wetting("pivots"), byPoint).map(pivotRecord),
      drip: [],
      lateral_moves: nearestFirst(wetting("lateral_moves"), byCart).map(moveRecord),
      nearest_field: nearest && {
        field: nearest.field,
        [key("distance")]: long(nearest.metres),
        azimuth_deg: nearest.metres > 0 ? nearest.azimuth_deg : null,
      },
    };
  }

  /* What is at a place, as `ringrow where --json` says it. `fix.sigma_m` is the position's error on one axis;
     without it the farm's own accuracy counts. Null for a place that is not on the globe. */
  function here(lon, lat, fix = null) {
    if (!(Math.abs(lat) <= 90 && Math.abs(lon) <= 180)) return null;
    const stated = fix ? { radius_m: 2.4477 * fix.sigma_m, kind: "r95", sigma_m: fix.sigma_m, assumed: false } : accuracy;
    const places = fields.map((field) => toXy(field.frame, lon, lat));
    const index = fields.findIndex((field, i) => covers(field.boundary, ...places[i]));
    return {
      at: { lat, lon },
      accuracy: accuracyRecord(stated),
      ...(index < 0 ? outside(places, lon, lat, stated.sigma_m) : inField(fields[index], places[index], stated.sigma_m)),
    };
  }

  /* What takes long to work out, one piece a call; false once all is there. */
  const slow = fields.flatMap(({ pivots }) => pivots.map(({ warm }) => warm).filter(Boolean));
  const warm = () => { const next = slow.shift(); if (next) next(); return slow.length > 0; };

  return Object.freeze({ here, distance, warm });
}

ringrowParts.push((core) => {
  core.where = ringrowWhere(core.data);
  const quiet = window.requestIdleCallback || ((act) => setTimeout(act, 300));
  const warm = () => { if (core.where.warm()) quiet(warm); };
  setTimeout(() => quiet(warm), 1000);
  core.shown.where = (lon, lat, sigma_m = null) => core.where.here(lon, lat, sigma_m === null ? null : { sigma_m });
});
