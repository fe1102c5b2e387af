/* Setting flags and changing them: where, what, a note, a photo. */
ringrowParts.push((core) => {
  const { map, data, fill, element, button, store } = core;
  const set = data.set, words = set.words, units = data.units;
  const machines = new Map(set.machines.map((machine) => [machine.name, machine]));
  const AT_TOWER_M = 1e-3, WORST_M = 1000, COARSE_M = 50;
  const long = (metres) => `${Math.round(metres / units.length_m).toLocaleString("en-US")} ${units.length}`;

  /* ---- small parts of forms ---- */
  let made = 0;
  function labelled(text, control, hint) {
    const row = element("div", "", "ask"), label = element("label", text);
    control.id ||= `ask-${(made += 1)}`;
    label.htmlFor = control.id;
    row.append(label, control);
    if (hint) {
      const line = element("p", hint, "hint");
      line.id = `${control.id}-hint`;
      control.setAttribute("aria-describedby", line.id);
      row.append(line);
    }
    return row;
  }
  function option(value, text, chosen) {
    const one = element("option", text);
    one.value = value;
    one.selected = chosen === value;
    return one;
  }
  function select(options, chosen, act) {
    const made_ = element("select");
    made_.append(...options.map(([value, text]) => option(value, text, chosen)));
    made_.addEventListener("change", () => act(made_.value));
    return made_;
  }
  function input(type, value, act, attributes = {}) {
    const made_ = element("input");
    made_.type = type;
    made_.value = value ?? "";
    for (const [key, to] of Object.entries(attributes)) made_.setAttribute(key, to);
    made_.addEventListener("input", () => act(made_.value));
    return made_;
  }
  function radios(text, options, chosen, act) {
    const box = element("fieldset", "", "choices"), name = `choice-${(made += 1)}`;
    box.append(element("legend", text));
    for (const [value, says] of options) {
      const label = element("label"), dot = element("input");
      dot.type = "radio";
      dot.name = name;
      dot.value = value;
      dot.checked = chosen === value;
      dot.addEventListener("change", () => act(value));
      label.append(dot, element("span", says));
      box.append(label);
    }
    return box;
  }
  function buttons(...all) {
    const row = element("div", "", "buttons");
    row.append(...all.filter(Boolean));
    return row;
  }
  const alertLine = () => {
    const line = element("p", "", "alert");
    line.setAttribute("role", "alert");
    return line;
  };

  /* ---- a place on the map: by tap, under the cross, or where one stands ---- */
  const stage = document.getElementById("stage");
  let placing = null;
  core.overlay(({ ctx, toPx, world }) => {
    for (const [lon, lat] of holes()) hole(ctx, ...toPx(world(lon, lat)));
    if (!placing) return;
    const { x, y } = map.containerPointToLayerPoint(crossPoint());
    for (const [colour, width] of [["#fff", 7], ["#000", 3]]) {
      ctx.strokeStyle = colour;
      ctx.lineWidth = width;
      ctx.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) { ctx.moveTo(x + 6 * dx, y + 6 * dy); ctx.lineTo(x + 24 * dx, y + 24 * dy); }
      ctx.stroke();
    }
  });
  /* The cross stands in the middle of what the box leaves of the map. */
  const crossPoint = () => { const size = map.getSize(); return L.point(size.x / 2, Math.max(60, (size.y - placing.box.offsetHeight + 48) / 2)); };
  const holes = () => data.flags.map((flag) => store.state(flag.id).dig).filter((spot) => spot && spot.on === "ground").map((spot) => [spot.lon, spot.lat]);
  function hole(ctx, x, y) {
    for (const [colour, width] of [["#fff", 6], ["#000", 3]]) {
      ctx.strokeStyle = colour;
      ctx.lineWidth = width;
      ctx.beginPath();
      ctx.moveTo(x - 8, y - 8); ctx.lineTo(x + 8, y + 8); ctx.moveTo(x + 8, y - 8); ctx.lineTo(x - 8, y + 8);
      ctx.stroke();
    }
  }
  /* A finger, a cross or a mouse hits a dozen pixels: what that is on the ground depends on the zoom. */
  const tapAccuracy = (lat, px) => Math.min(WORST_M, Math.max(1, px * core.metresPerPixel(lat, map.getZoom())));
  function mapSpot(lon, lat, how) {
    const accuracy_m = Math.round(10 * tapAccuracy(lat, how === "tap" ? 12 : 6)) / 10;
    return {
      spot: { on: "ground", lon: round(lon, 7), lat: round(lat, 7), accuracy_m, accuracy_kind: "r95", accuracy_assumed: true },
      how: fill(how === "tap" ? words.place_tap : words.place_centre, { accuracy: long(accuracy_m) }),
    };
  }
  const round = (value, digits) => Number(value.toFixed(digits));
  function endPlacing() {
    if (!placing) return;
    placing.box.remove();
    stage.removeEventListener("keydown", placing.escape);
    placing = null;
    core.takeTaps(null);
    map.off("move", core.redraw);
    core.redraw();
  }
  function pickPlace(text, done, cancelled) {
    endPlacing();
    core.closePanel();
    if (core.rest) core.rest("peek");
    map.closePopup();
    const box = element("div", "", "placing"), line = element("p", text), trouble = alertLine();
    const finish = (found) => { endPlacing(); done(found); };
    const cancel = () => { endPlacing(); cancelled(); };
    const centre = () => { const { lng, lat } = map.containerPointToLatLng(crossPoint()); finish(mapSpot(lng, lat, "centre")); };
    const mine = () => {
      trouble.textContent = words.waiting;
      position().then(finish, (problem) => { if (placing) trouble.textContent = problem; });
    };
    box.append(line, trouble, buttons(
      button(words.here_centre, "", centre),
      button(words.here_me, "", mine),
      button(words.cancel, "", cancel),
    ));
    const escape = (event) => { if (event.key === "Escape") { event.preventDefault(); cancel(); } };
    stage.addEventListener("keydown", escape);
    L.DomEvent.disableClickPropagation(box);
    stage.append(box);
    placing = { box, escape };
    core.takeTaps((lon, lat) => finish(mapSpot(lon, lat, "tap")));
    map.on("move", core.redraw);
    core.redraw();
    map.getContainer().focus({ preventScroll: true });
    core.say(text);
  }
  /* The radius that browsers state holds 95 of 100 fixes (W3C Geolocation). */
  function position() {
    return new Promise((done, failed) => {
      if (!navigator.geolocation || !window.isSecureContext) { failed(words.no_gps); return; }
      navigator.geolocation.getCurrentPosition(({ coords }) => {
        const accuracy_m = Math.max(0.1, round(coords.accuracy, 2));
        if (!(accuracy_m <= WORST_M)) { failed(fill(words.gps_coarse, { accuracy: long(coords.accuracy) })); return; }
        const text = fill(accuracy_m > COARSE_M ? words.gps_coarse : words.place_position, { accuracy: long(accuracy_m) });
        done({
          spot: { on: "ground", lon: round(coords.longitude, 7), lat: round(coords.latitude, 7), accuracy_m, accuracy_kind: "r95", accuracy_assumed: false, timed: true },
          how: text,
        });
      }, (error) => failed(error.code === 1 ? words.gps_refused : words.gps_failed), { enableHighAccuracy: true, maximumAge: 5000, timeout: 20000 });
    });
  }
  const sigma = (spot) => spot.accuracy_m / { r95: 2.4477, r68: 1.5096, rms: 1.4142, cep: 1.1774 }[spot.accuracy_kind];

  /* ---- a place on a machine, as people say it ---- */
  function dropsAt(machine, tower) {
    const outlets = machine.outlets_m, radii = [0, ...machine.towers_m], at = radii[tower], drops = new Map();
    const outer = tower < machine.towers_m.length ? radii[tower + 1] : machine.pipe_m + AT_TOWER_M;
    const first = (test) => { const found = outlets.findIndex(test); return found < 0 ? outlets.length : found; };
    const beforeFrom = first((far) => far >= radii[tower - 1]), beforeTo = first((far) => far >= at - AT_TOWER_M);
    const pastFrom = first((far) => far > at + AT_TOWER_M), pastTo = first((far) => far > outer);
    for (let index = beforeFrom; index < beforeTo; index += 1) drops.set(index - beforeTo, index + 1);
    for (let index = pastFrom; index < pastTo; index += 1) drops.set(index - pastFrom + 1, index + 1);
    return drops;
  }
  const spanOf = (drops) => {
    const all = [...drops.keys()], less = all.filter((drop) => drop < 0), more = all.filter((drop) => drop > 0);
    return [less.length ? `${Math.min(...less)} … -1` : "", more.length ? `1 … ${Math.max(...more)}` : ""].filter(Boolean).join(", ");
  };
  /* What is said of a pivot: the event's value and the place in words; or what cannot be. */
  function onPivot(machine, said) {
    const spot = { on: "machine", pivot: machine.name }, name = machine.name;
    const withAzimuth = (rest, text) => ({ spot: { ...spot, ...rest, ...(said.azimuth_deg === undefined ? {} : { azimuth_deg: said.azimuth_deg }) }, text, far_m: rest.distance_m });
    if (said.how === "distance") {
      const far = Number(said.distance), most = machine.end_m / units.length_m;
      if (said.distance === "" || !(far >= 0 && far <= most + 0.5)) return { problem: fill(words.bad_distance, { most: Math.round(most), unit: units.length }) };
      const distance_m = Math.min(far * units.length_m, machine.end_m);
      return withAzimuth({ said: `${Math.round(distance_m / units.length_m)} ${units.length} from the pivot point`, distance_m }, fill(words.at_distance_words, { machine: name, distance: long(distance_m) }));
    }
    const tower = Number(said.tower), arm = tower > machine.towers_m.length;
    const distance_m = arm ? machine.arm_wheels_m : machine.towers_m[tower - 1];
    if (said.how === "drop" && !arm) {
      if (!machine.outlets_m.length) return { problem: words.no_drops };
      const drop = Number(said.drop), drops = dropsAt(machine, tower);
      if (!drops.has(drop)) return { problem: fill(words.bad_drop, { tower, allowed: spanOf(drops) || "0" }) };
      const outlet = drops.get(drop), signed = drop > 0 ? `+${drop}` : String(drop);
      return withAzimuth({ said: `tower ${tower}, drop ${signed}`, distance_m: machine.outlets_m[outlet - 1], tower, drop, outlet }, fill(words.at_drop_words, { machine: name, tower, drop: signed }));
    }
    const said_ = arm ? "steered wheels of the corner arm" : `tower ${tower}`;
    const text = fill(arm ? words.at_arm_words : words.at_tower_words, { machine: name, tower });
    if (!said.wheel) return withAzimuth({ said: said_, distance_m, tower }, text);
    return withAzimuth({ said: `${said_}, ${said.wheel} wheel`, distance_m, tower, wheel: said.wheel }, fill(words.at_wheel_words, { place: text, wheel: words[said.wheel] }));
  }
  function onMove(machine, said) {
    const wing = machine[said.side], spot = { on: "move", move: machine.name, side: said.side }, side = words[said.side];
    const withTravel = (rest, text) => ({ spot: { ...spot, ...rest, ...(said.travel_m === undefined ? {} : { travel_m: said.travel_m }) }, text });
    if (said.how === "distance") {
      const far = Number(said.distance), most = wing.end_m / units.length_m;
      if (said.distance === "" || !(far >= 0 && far <= most + 0.5)) return { problem: fill(words.bad_distance, { most: Math.round(most), unit: units.length }) };
      const offset_m = Math.min(far * units.length_m, wing.end_m);
      return withTravel({ said: `${said.side}, ${Math.round(offset_m / units.length_m)} ${units.length} from the cart`, offset_m }, fill(words.at_side_distance_words, { machine: machine.name, side, distance: long(offset_m) }));
    }
    const tower = Number(said.tower), text = fill(words.at_side_words, { machine: machine.name, side, tower });
    const rest = { said: `${said.side} tower ${tower}${said.wheel ? `, ${said.wheel} wheel` : ""}`, offset_m: wing.towers_m[tower - 1], tower };
    return withTravel(rest, said.wheel ? fill(words.at_wheel_words, { place: text, wheel: words[`${said.wheel}-move`] }) : text);
  }
  const spotOnMachine = (said) => {
    const machine = machines.get(said.machine), where = said.stands && said.fix ? said.fix : null;
    const found = machine.kind === "pivot"
      ? onPivot(machine, { ...said, azimuth_deg: where ? where.azimuth_deg : undefined })
      : onMove(machine, { ...said, travel_m: where ? where.travel_m : undefined });
    if (found.problem) return found;
    const known = where && (machine.kind === "pivot" ? where.azimuth_deg : where.travel_m) !== undefined;
    const ring = machine.kind === "pivot" && machine.at ? { at: machine.at, radius_m: found.far_m, start_deg: machine.start_deg, sweep_deg: machine.sweep_deg } : null;
    return {
      spot: found.spot,
      look: { place: found.text, at: known ? [where.lon, where.lat] : null, ring, on_move: machine.kind === "move", field: machine.field, system: machine.name },
    };
  };
  const hands = (machine) => ["left", "right"].filter((side) => machine[side].towers_m.length);

  /* ---- what a ground place is called ---- */
  function groundLook({ lon, lat, ...spot }) {
    const found = core.where.here(lon, lat, { sigma_m: sigma(spot) }), said = core.reading(found, sigma(spot));
    const wet = [...found.pivots, ...found.lateral_moves, ...found.drip].find((system) => system.inside);
    const [system] = said.systems.filter((each) => each.inside);
    return {
      place: system ? `${system.name}: ${system.main.join(", ")}` : said.ground,
      at: [lon, lat], ring: null, on_move: false, field: found.field || "", system: wet ? wet.name : "",
    };
  }

  /* ---- photos ---- */
  async function shrink(file) {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const factor = Math.min(1, set.photo_side_px / Math.max(picture.width, picture.height));
    const canvas = element("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * factor));
    canvas.height = Math.max(1, Math.round(picture.height * factor));
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.imageSmoothingQuality = "high";
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.8));
    const bytes = await blob.arrayBuffer();
    return { name: file.name.slice(0, 100) || "photo.jpg", taken: new Date(file.lastModified).toISOString(), bytes, canvas };
  }
  function photoPart(draft) {
    const box = element("div", "", "photo-part"), line = element("p"), picks = element("div", "", "picks-photo");
    line.setAttribute("role", "status");
    picks.setAttribute("role", "group");
    picks.setAttribute("aria-label", words.photo);
    /* Two ways in: with `capture` phones open the camera at once and offer no album, without it some offer no camera. */
    const ways = [[words.photo_take, "environment"], [words.photo_pick, null]].map(([text, camera]) => {
      const label = element("label", text, "as-file"), pick = element("input");
      pick.type = "file";
      pick.accept = "image/*";
      if (camera) pick.setAttribute("capture", camera);
      label.append(pick);
      pick.addEventListener("change", () => taken(pick));
      return label;
    });
    picks.append(...ways);
    const show = () => {
      const { photo } = draft;
      box.querySelectorAll("canvas, .buttons").forEach((old) => old.remove());
      if (!photo) return;
      const { canvas, bytes, name } = photo;
      line.textContent = fill(words.photo_ready, { name, width: canvas.width, height: canvas.height, kb: Math.round(bytes.byteLength / 1000) });
      canvas.setAttribute("role", "img");
      canvas.setAttribute("aria-label", name);
      box.append(canvas, buttons(button(words.photo_gone, "", () => { draft.photo = null; line.textContent = ""; show(); picks.querySelector("input").focus(); })));
    };
    async function taken(pick) {
      const [file] = pick.files;
      if (!file) return;
      draft.photo = null;
      line.textContent = words.photo_wait;
      try {
        draft.photo = await shrink(file);
      } catch (error) {
        line.textContent = fill(words.photo_bad, { name: file.name });
      }
      /* The same file can be chosen once more. */
      pick.value = "";
      show();
    }
    box.append(picks, line);
    show();
    return box;
  }
  /* SHA-256 (FIPS 180-4): pages over plain http have no crypto.subtle. Constants are made as it says, from primes. */
  const sha256 = (() => {
    const primes = [];
    for (let one = 2; primes.length < 64; one += 1) if (primes.every((prime) => one % prime)) primes.push(one);
    const part = (value) => ((value - Math.floor(value)) * 4294967296) >>> 0;
    const start = primes.slice(0, 8).map((prime) => part(Math.sqrt(prime))), k = primes.map((prime) => part(Math.cbrt(prime)));
    const turn = (value, by) => (value >>> by) | (value << (32 - by));
    return (buffer) => {
      const bytes = new Uint8Array(buffer), padded = new Uint8Array(((bytes.length + 8) >> 6) * 64 + 64), view = new DataView(padded.buffer);
      padded.set(bytes);
      padded[bytes.length] = 0x80;
      view.setUint32(padded.length - 8, Math.floor(bytes.length / 536870912));
      view.setUint32(padded.length - 4, (bytes.length << 3) >>> 0);
      const state = Uint32Array.from(start), w = new Uint32Array(64);
      for (let from = 0; from < padded.length; from += 64) {
        for (let i = 0; i < 16; i += 1) w[i] = view.getUint32(from + 4 * i);
        for (let i = 16; i < 64; i += 1) {
          const a = w[i - 15], b = w[i - 2];
          w[i] = w[i - 16] + (turn(a, 7) ^ turn(a, 18) ^ (a >>> 3)) + w[i - 7] + (turn(b, 17) ^ turn(b, 19) ^ (b >>> 10));
        }
        let [a, b, c, d, e, f, g, h] = state;
        for (let i = 0; i < 64; i += 1) {
          const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + k[i] + w[i]) >>> 0;
          const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) >>> 0;
          [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) >>> 0, c, b, a, (one + two) >>> 0];
        }
        [a, b, c, d, e, f, g, h].forEach((value, i) => { state[i] += value; });
      }
      return [...state].map((value) => value.toString(16).padStart(8, "0")).join("");
    };
  })();
  core.shown.sha256 = (text) => sha256(new TextEncoder().encode(text).buffer);

  /* ---- parts of both forms ---- */
  function whoPart(draft) {
    const known = store.who(), box = element("div", "", "who");
    const ask = () => box.replaceChildren(labelled(words.who, input("text", draft.who ?? known, (name) => { draft.who = name; }, { maxlength: 200, autocomplete: "name" })));
    if (!known || draft.who !== undefined) ask();
    else box.append(element("span", fill(words.who_is, { who: known })), button(words.who_other, "", () => { draft.who = known; ask(); box.querySelector("input").focus(); }));
    return box;
  }
  function kindPart(draft, allowed) {
    const made_ = element("select");
    if (!draft.kind) made_.append(option("", words.choose, ""));
    for (const on of allowed) {
      const group = element("optgroup");
      group.label = words[`kinds_${on}`];
      group.append(...set.kinds.filter((kind) => kind.on === on).map((kind) => option(kind.name, kind.words, draft.kind)));
      made_.append(group);
    }
    if (draft.kind && !set.kinds.some((kind) => kind.name === draft.kind && allowed.includes(kind.on))) made_.append(option(draft.kind, store.kindWords(draft.kind), draft.kind));
    made_.addEventListener("change", () => { draft.kind = made_.value; });
    return labelled(words.kind, made_);
  }
  function notePart(draft) {
    const area = element("textarea");
    area.rows = 2;
    area.maxLength = 10000;
    area.value = draft.note || "";
    area.addEventListener("input", () => { draft.note = area.value; });
    return labelled(words.note, area);
  }
  /* Photo first, where there is room for it; the event that names it only when it is kept. */
  async function keep(changes, draft, flag, rest = {}) {
    if (draft.who !== undefined) store.setWho(draft.who);
    const ids = {};
    if (draft.photo) {
      const { bytes, name, taken } = draft.photo, mark = sha256(bytes), id = store.newId();
      try {
        await store.photos.keep(id, { name, type: "image/jpeg", bytes });
      } catch (error) {
        return error && error.name === "QuotaExceededError" ? words.full : words.photo_not_kept;
      }
      ids[changes.length] = id;
      changes.push({ flag, field: "photo", value: { file: `photos/${flag}-${mark.slice(0, 12)}.jpg`, name, sha256: mark, taken } });
    }
    if (store.add(changes, { ids, ...rest })) return "";
    await store.photos.drop(Object.values(ids));
    return words.full;
  }
  function finish(flag, text) {
    core.closePanel();
    const shown = data.flags.find((one) => one.id === flag);
    if (shown) core.goTo(shown);
    core.say(fill(text, { number: shown ? shown.number : "" }));
  }

  /* ---- a form that was begun and is neither kept nor cancelled: it waits, over a closed page too ---- */
  let begun = store.draft();
  function remember(draft) {
    begun = draft;
    store.keepDraft(draft);
    tellBegun();
  }
  const tellBegun = (open = false) => core.tell("begun", begun && !open ? words.begun : "");
  /* All but the photo, which is too large, and the way back to a part of the page that may be gone. */
  function watch(box, what) {
    const now = () => { begun = what(); store.keepDraft(begun); };
    box.addEventListener("input", now);
    box.addEventListener("change", now);
  }
  const plainDraft = ({ on, said, place: spot, well, proposal, kind, note, who, status, ground_flag, parts, dig }) => ({ on, said, place: spot, well, proposal, kind, note, who, status, ground_flag, parts, dig });
  /* Where a machine stood, and the minute of a fix, are true for a while only. */
  function goOn() {
    const { flag, draft } = begun;
    if (flag) return change(data.flags.find((one) => one.id === flag), { ...draft, parts: draft.parts || [] });
    if (draft.place) delete draft.place.spot.timed;
    if (draft.said) Object.assign(draft, { proposal: "", said: { ...draft.said, fix: null, stands: false } });
    return form(draft);
  }
  const stillThere = () => {
    if (!begun || !begun.draft) return false;
    const { flag, draft } = begun;
    if (flag) return data.flags.some((one) => one.id === flag);
    return { ground: () => draft.place?.spot, machine: () => machines.has(draft.said?.machine), well: () => set.wells.some(({ name }) => name === draft.well) }[draft.on]?.();
  };
  function begunPart() {
    if (!stillThere()) return [];
    const { flag, draft } = begun, shown = flag && data.flags.find((one) => one.id === flag);
    const what = [shown ? fill(words.change, { number: shown.number }) : words[draft.on], draft.kind && store.kindWords(draft.kind), draft.note].filter(Boolean).join("; ");
    const box = element("div", "", "begun");
    box.append(element("p", fill(words.begun_is, { what })), buttons(button(words.go_on, "", goOn, "main"), button(words.throw_begun, "", () => { remember(null); start(); })));
    return [box];
  }

  /* ---- set a flag ---- */
  function start() {
    endPlacing();
    const box = element("div", "", "set-form");
    box.append(...begunPart());
    const choice = (on, act) => {
      const made_ = button("", "", act, "big");
      made_.append(element("strong", words[on]), element("span", words[`${on}_hint`]));
      return made_;
    };
    box.append(choice("ground", () => place({})));
    if (machines.size) box.append(choice("machine", () => form({ on: "machine", said: firstSaid([...machines.values()][0]) })));
    if (set.wells.length) box.append(choice("well", () => form({ on: "well", well: set.wells[0].name })));
    core.openPanel(words.on_what, box, { rest: "full", closed: tellBegun });
    tellBegun(true);
  }
  function place(draft) {
    pickPlace(words.placing, (found) => form({ ...draft, on: "ground", place: found }), () => (draft.place ? form(draft) : draft.back ? draft.back() : start()));
  }
  const firstSaid = (machine) => ({ machine: machine.name, how: "tower", tower: "1", wheel: "", drop: "1", distance: "", side: machine.kind === "move" ? hands(machine)[0] : "", fix: null, stands: false });
  const ALLOWED = { ground: ["ground", "machine", "works"], machine: ["machine", "works"], well: ["works", "ground"] };
  function form(draft) {
    const box = element("form", "", "set-form"), problem = alertLine(), placeBox = element("div", "", "place-part"), kindBox = element("div");
    box.noValidate = true;
    /* What stays on the ground can be said on a machine only while one knows where it stands. */
    const writeKinds = () => kindBox.replaceChildren(kindPart(draft, draft.on === "machine" && draft.said.stands ? [...ALLOWED.machine, "ground"] : ALLOWED[draft.on]));
    const write = () => { placeBox.replaceChildren(...placeParts[draft.on](draft, write)); writeKinds(); };
    box.append(placeBox, kindBox, notePart(draft), photoPart(draft), whoPart(draft), problem);
    const save = button(words.save_new, "", () => {}, "main");
    save.type = "submit";
    /* Who comes from another part of the page goes back there. */
    box.append(buttons(save, button(words.cancel, "", () => { remember(null); if (draft.back) draft.back(); else core.closePanel(); })));
    write();
    watch(box, () => ({ draft: plainDraft(draft) }));
    /* A place was found for it: that alone is worth keeping. */
    if (draft.on === "ground") { begun = { draft: plainDraft(draft) }; store.keepDraft(begun); }
    box.addEventListener("submit", async (event) => {
      event.preventDefault();
      const found = spots[draft.on](draft), flag = store.newId();
      problem.textContent = found.problem || (draft.kind ? "" : words.choose_kind);
      if (problem.textContent) return;
      const values = { spot: found.spot, kind: draft.kind, ...(draft.note ? { note: draft.note } : {}) };
      save.disabled = true;
      problem.textContent = await keep(Object.entries(values).map(([field, value]) => ({ flag, field, value })), draft, flag, { look: found.look });
      save.disabled = false;
      if (problem.textContent) return;
      remember(null);
      if (draft.done) draft.done(flag, found.look, draft);
      else finish(flag, words.was_set);
    });
    core.openPanel(words.set, box, { rest: "full", closed: tellBegun });
    tellBegun(true);
  }
  const spots = {
    ground: (draft) => ({ spot: draft.place.spot, look: groundLook(draft.place.spot) }),
    machine: (draft) => spotOnMachine(draft.said),
    well: (draft) => {
      const well = set.wells.find((one) => one.name === draft.well);
      return { spot: { on: "well", well: well.name }, look: { place: well.name, at: well.at, ring: null, on_move: false, field: "", system: well.name } };
    },
  };
  const placeParts = {
    ground: (draft) => {
      const { spot, how } = draft.place;
      return [element("h3", words.place), element("p", `${spot.lat.toFixed(6)}, ${spot.lon.toFixed(6)}`), element("p", how), buttons(button(words.other_place, "", () => place(draft)))];
    },
    well: (draft) => [labelled(words.which_well, select(set.wells.map(({ name }) => [name, name]), draft.well, (name) => { draft.well = name; }))],
    machine: machineParts,
  };
  function machineParts(draft, write) {
    const { said } = draft, machine = machines.get(said.machine), isMove = machine.kind === "move";
    const parts = [], line = element("p", draft.proposal || "", "hint");
    line.setAttribute("role", "status");
    const rewrite = (key) => { write(); const next = document.querySelector(`.place-part [data-key="${key}"]`); if (next) next.focus(); };
    const keyed = (key, control) => { control.dataset.key = key; return control; };
    parts.push(labelled(words.which_machine, keyed("machine", select([...machines.keys()].map((name) => [name, name]), said.machine, (name) => {
      draft.said = firstSaid(machines.get(name));
      draft.proposal = "";
      rewrite("machine");
    }))));
    parts.push(buttons(keyed("propose", button(words.propose, "", () => propose(draft, line, () => rewrite("propose"))))), line);
    if (isMove && hands(machine).length > 1) parts.push(radios(words.side, hands(machine).map((side) => [side, words[side]]), said.side, (side) => { said.side = side; said.tower = "1"; write(); }));
    const ways = [["tower", words.at_tower], ...(isMove ? [] : [["drop", words.at_drop]]), ["distance", words.at_distance]];
    parts.push(labelled(words.said_how, keyed("how", select(ways, said.how, (how) => { said.how = how; rewrite("how"); }))));
    if (said.how === "distance") {
      parts.push(labelled(fill(isMove ? words.distance_cart : words.distance_pivot, { unit: units.length }), input("text", said.distance, (value) => { said.distance = value.trim(); }, { inputmode: "decimal" })));
    } else {
      const count = isMove ? machine[said.side].towers_m.length : machine.towers_m.length;
      const towers = Array.from({ length: count }, (_, index) => [String(index + 1), fill(words.tower_n, { number: index + 1 })]);
      if (!isMove && machine.arm_wheels_m !== null && said.how === "tower") towers.push([String(count + 1), words.arm_wheels]);
      if (Number(said.tower) > towers.length) said.tower = "1";
      parts.push(labelled(words.tower, keyed("tower", select(towers, said.tower, (tower) => { said.tower = tower; }))));
      if (said.how === "drop") parts.push(labelled(words.drop_count, input("text", said.drop, (value) => { said.drop = value.trim(); }, { inputmode: "text" }), machine.outlets_m.length ? words.drop_hint : words.no_drops));
      else parts.push(labelled(words.wheel, select([["", words.no_wheel], ...set.wheels.map((wheel) => [wheel, words[isMove ? `${wheel}-move` : wheel]])], said.wheel, (wheel) => { said.wheel = wheel; })));
    }
    if (said.fix && said.fix.machine === machine.name) {
      const label = element("label", "", "tick"), tick = element("input");
      tick.type = "checkbox";
      tick.checked = said.stands;
      tick.addEventListener("change", () => { said.stands = tick.checked; rewrite("tower"); });
      label.append(tick, element("span", words.stands_here));
      parts.push(label);
    }
    return parts;
  }
  /* By where the person stands: the machine whose water reaches there, its nearest tower. */
  function propose(draft, line, rewrite) {
    line.textContent = words.waiting;
    position().then(({ spot }) => {
      const found = core.where.here(spot.lon, spot.lat, { sigma_m: sigma(spot) });
      const reached = [...found.pivots, ...found.lateral_moves].filter((seen) => machines.has(seen.name) && seen.tower);
      const seen = reached.find((one) => one.inside) || reached[0];
      if (!seen) { line.textContent = words.nothing_near; return; }
      const fix = { machine: seen.name, lon: spot.lon, lat: spot.lat };
      if (typeof seen.azimuth_deg === "number") fix.azimuth_deg = round(seen.azimuth_deg % 360, 2) % 360;
      const travel = seen[`travel_${units.length}`];
      if (typeof travel === "number") fix.travel_m = round(Math.max(0, travel * units.length_m), 2);
      draft.said = { ...firstSaid(machines.get(seen.name)), tower: String(seen.tower), fix, stands: true, ...(seen.side ? { side: seen.side } : {}) };
      draft.proposal = fill(seen.side ? words.proposed_side : words.proposed, { machine: seen.name, tower: seen.tower, side: seen.side ? words[seen.side].toLowerCase() : "" });
      rewrite();
    }, (text) => { line.textContent = text; });
  }

  /* ---- change a flag ---- */
  function change(flag, kept = null) {
    endPlacing();
    const state = store.state(flag.id), draft = kept || { kind: state.kind, note: state.note, status: state.status, ground_flag: state.ground_flag, parts: [] };
    const box = element("form", "", "set-form"), problem = alertLine();
    box.noValidate = true;
    const allowed = { machine: ALLOWED.machine, move: ALLOWED.machine, well: ALLOWED.well }[state.on] || ["ground", "machine", "works"];
    const save = button(words.save, "", () => {}, "main");
    save.type = "submit";
    box.append(
      radios(words.status, ["open", "fixed", "checked", "not-a-fault"].map((name) => [name, words[name]]), draft.status, (name) => { draft.status = name; }),
      kindPart(draft, allowed), notePart(draft), photoPart(draft), partsPart(draft, state), ...holePart(flag, draft, state),
      radios(words.ground_flag, [["", words.ground_unsaid], ["set", words.ground_set], ["pulled", words.ground_pulled]], draft.ground_flag || "", (name) => { draft.ground_flag = name || null; }),
      whoPart(draft), problem, buttons(save, button(words.cancel, "", () => { remember(null); core.closePanel(); })),
    );
    watch(box, () => ({ flag: flag.id, draft: plainDraft(draft) }));
    if (kept) remember({ flag: flag.id, draft: plainDraft(draft) });
    box.addEventListener("submit", async (event) => {
      event.preventDefault();
      const parts = draft.parts.filter((row) => row.part.trim() || row.quantity.trim());
      const whole = parts.map(({ part, quantity }) => ({ part: part.trim(), quantity: Number(quantity || "1") }));
      if (whole.some(({ part, quantity }) => !part || !Number.isInteger(quantity) || quantity < 1 || quantity > 100000)) { problem.textContent = words.bad_parts; return; }
      const changes = ["status", "kind", "note", "ground_flag"].filter((field) => (draft[field] ?? null) !== (state[field] ?? null)).map((field) => ({ flag: flag.id, field, value: draft[field] }));
      if (whole.length) changes.push({ flag: flag.id, field: "parts", value: whole });
      if (draft.dig) changes.push({ flag: flag.id, field: "dig", value: draft.dig });
      if (!changes.length && !draft.photo) { problem.textContent = words.nothing_new; return; }
      save.disabled = true;
      problem.textContent = await keep(changes, draft, flag.id);
      save.disabled = false;
      if (problem.textContent) return;
      remember(null);
      finish(flag.id, words.was_changed);
    });
    core.openPanel(fill(words.change, { number: flag.number }), box, { rest: "full", closed: tellBegun });
    tellBegun(true);
  }
  function partsPart(draft, state) {
    const box = element("fieldset", "", "parts"), list = element("div");
    box.append(element("legend", words.parts));
    if (state.parts.length) box.append(element("p", fill(words.parts_before, { list: store.partWords(state.parts) })));
    const line = (row) => {
      const pair = element("div", "", "pair");
      pair.append(
        labelled(words.part, input("text", row.part, (value) => { row.part = value; }, { maxlength: 200 })),
        labelled(words.quantity, input("text", row.quantity, (value) => { row.quantity = value; }, { inputmode: "numeric", maxlength: 6 })),
      );
      list.append(pair);
      return pair;
    };
    const more = () => { const row = { part: "", quantity: "1" }; draft.parts.push(row); return line(row); };
    draft.parts.forEach(line);
    box.append(list, buttons(button(words.more_parts, "", () => more().querySelector("input").focus())));
    return box;
  }
  function holePart(flag, draft, state) {
    if (!["ground", "drip", null].includes(state.on)) return [];
    const box = element("fieldset", "", "hole"), known = draft.dig || state.dig;
    box.append(element("legend", words.dig));
    if (known) box.append(element("p", words.dig_known));
    box.append(buttons(button(words.dig_mark, "", () => pickPlace(words.placing_hole, ({ spot }) => change(flag, { ...draft, dig: spot }), () => change(flag, draft)))));
    return [box];
  }

  /* ---- ways in ---- */
  core.addAction(words.set, start, { name: "set" });
  map.on("popupopen", ({ popup }) => {
    const flag = core.chosen(), box = popup.getContent();
    if (!flag || !(box instanceof Element) || box.querySelector("h3")?.textContent !== flag.title || box.querySelector(".change")) return;
    box.append(button(fill(words.change, { number: flag.number }), "", () => { map.closePopup(); change(flag); }, "change"));
    popup.update();
  });
  /* A flag without any place has no bubble: its button stands in the bar. */
  const without = core.addAction("", () => { if (core.chosen()) change(core.chosen()); }, { name: "change" });
  without.hidden = true;
  core.hear("chosen", (flag) => {
    without.hidden = !flag || Boolean(flag.at || flag.ring);
    if (flag) without.textContent = fill(words.change, { number: flag.number });
  });
  core.hear("ready", () => tellBegun());
  core.setFlag = { start, change, spotOnMachine, form, place, firstSaid, labelled, input, select, buttons };
  core.shown.spotOnMachine = (said) => spotOnMachine(said).spot || null;
  core.shown.dropsAt = (name, tower) => [...dropsAt(machines.get(name), tower)];
});
