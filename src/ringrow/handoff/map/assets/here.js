/* Where am I: the phone's own position, a tap on the map or typed numbers; what is there, live; and how
   far it is to the chosen flag. `core.position()` is null or {lon, lat, accuracy_m, how}, the accuracy the
   radius that holds 95 of 100 fixes; every new one is told as "position". */
ringrowParts.push((core) => {
  const { map, data, fill, element, button, say } = core, words = core.words.here.panel;
  const { length, close, angle, compass } = core.said;
  /* Radius that holds 95 of 100 fixes in sigmas of one axis: the accuracy browsers state (W3C Geolocation). */
  const R95 = Math.sqrt(-2 * Math.log(0.05));
  /* A fingertip finds a place to some ten pixels. Beyond 20 m (65 ft) a fix cannot name a span. */
  const FINGER_PX = 10, COARSE_M = 20, OLD_S = 15, FAR_M = 5000;
  let position = null, watch = null, at_ms = 0, trouble = "", following = false, drawn = null, ways = {}, waiting = false;
  let how = "", resume = false;

  /* ---- one position, however it was found ---- */
  function found(lon, lat, accuracy_m, how) {
    const first = !position || position.how !== how;
    position = { lon, lat, accuracy_m, how };
    at_ms = Date.now();
    trouble = "";
    waiting = false;
    show();
    if (how !== "tap" && (first || how === "typed")) lookAt(Math.max(map.getZoom(), 17));
    else if (following) lookAt(map.getZoom());
    core.redraw();
    core.tell("position", position);
  }
  const near = () => core.where.distance(...middle(), position.lon, position.lat).metres < FAR_M + reach_m;
  const middle = () => { const [west, south, east, north] = data.bounds; return [(west + east) / 2, (south + north) / 2]; };
  const reach_m = core.where.distance(...data.bounds).metres / 2;
  /* In the middle of what the sheet leaves of the map; someone far from the farm keeps the farm in sight. */
  function lookAt(zoom) {
    if (!near()) return;
    const spot = map.project([position.lat, position.lon], zoom), size = map.getSize();
    const now = map.latLngToContainerPoint([position.lat, position.lon]);
    const still = zoom === map.getZoom() && Math.hypot(now.x - size.x / 2, now.y - (size.y - core.covered()) / 2) < 8;
    if (!still) map.setView(map.unproject(spot.add([0, core.covered() / 2]), zoom), zoom, { animate: false });
  }

  /* ---- the phone's own ---- */
  function askPhone() {
    take("gps");
    trouble = "";
    if (!window.isSecureContext) trouble = words.insecure;
    else if (!navigator.geolocation) trouble = words.missing;
    if (trouble) { watch = null; return show(); }
    waiting = true;
    following = true;
    listen();
    return show();
  }
  function listen() {
    if (watch !== null) return;
    watch = navigator.geolocation.watchPosition(
      ({ coords }) => found(coords.longitude, coords.latitude, coords.accuracy, "gps"),
      (error) => {
        trouble = { 1: words.denied, 2: words.unavailable, 3: words.timeout }[error.code];
        if (error.code === 1) stopPhone();
        show();
        say(trouble);
      },
      { enableHighAccuracy: true, maximumAge: 0, timeout: 20000 },
    );
  }
  function stopPhone() {
    if (watch !== null) navigator.geolocation.clearWatch(watch);
    watch = null;
    waiting = resume = following = false;
  }
  /* A page nobody looks at asks for nothing: it saves the battery. */
  document.addEventListener("visibilitychange", () => {
    if (document.hidden && watch !== null) {
      navigator.geolocation.clearWatch(watch);
      watch = null;
      resume = true;
    } else if (!document.hidden && resume) {
      resume = false;
      listen();
    }
  });
  map.on("dragstart", letGo);
  map.getContainer().addEventListener("keydown", (event) => { if (event.key.startsWith("Arrow")) letGo(); });
  function letGo() {
    if (!following) return;
    following = false;
    show();
    say(words.following_off);
  }

  /* ---- a tap, or the middle of the map for those without a finger ---- */
  function askTap() {
    take("tap");
    core.takeTaps((lon, lat) => tapped(lon, lat));
    if (core.panel()) core.rest("peek");
    say(words.tap_now);
    show();
  }
  function tapped(lon, lat) {
    core.takeTaps(null);
    how = "";
    core.rest("half");
    found(lon, lat, FINGER_PX * core.metresPerPixel(lat, map.getZoom()), "tap");
  }
  function askTyped() {
    take("typed");
    show();
    input.focus();
  }
  function take(name) {
    if (how === "tap") core.takeTaps(null);
    if (name !== "gps") stopPhone();
    how = name;
    trouble = "";
    fault.textContent = "";
  }

  /* ---- what the panel says ---- */
  const box = element("div", "", "here-panel"), state = element("p", "", "state"), pick = element("div", "", "ways");
  const more = element("div", "", "ways"), form = element("form", "", "typed"), way = element("p", "", "way-line");
  const readout = element("div", "", "readout"), input = element("input"), fault = element("p", "", "fault");
  state.setAttribute("role", "status");
  fault.setAttribute("role", "alert");
  fault.id = "typed-fault";
  ways = {
    gps: button(words.way_gps, "", askPhone),
    tap: button(words.way_tap, "", askTap),
    typed: button(words.way_typed, "", askTyped),
  };
  pick.append(...Object.values(ways));
  const follow = button(words.follow, "", () => {
    following = !following;
    if (following && position) lookAt(map.getZoom());
    show();
  });
  const stop = button(words.stop, "", () => { stopPhone(); trouble = words.stopped; show(); ways.gps.focus(); });
  const centre = button(words.middle, "", () => { const { lng, lat } = map.getCenter(); tapped(lng, lat); });
  more.append(follow, stop, centre);
  const label = element("label", words.type_label), example = element("p", words.type_example, "example");
  input.type = "text";
  input.id = "typed";
  input.autocomplete = "off";
  input.setAttribute("aria-describedby", "typed-example typed-fault");
  example.id = "typed-example";
  label.htmlFor = "typed";
  const line = element("div", "", "line"), go = element("button", words.go);
  line.append(input, go);
  form.append(label, line, fault, example);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    fault.textContent = "";
    try {
      const { lat, lon } = core.readTyped(input.value);
      found(lon, lat, data.where.accuracy.sigma_m * R95, "typed");
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
      fault.textContent = error.message;
    }
  });
  /* The answer first: in the field nobody wants to pull for it. */
  box.append(state, way, readout, pick, form, more);

  function stateWords() {
    if (trouble) return trouble;
    if (how === "tap") return words.tap_now;
    if (waiting) return words.looking;
    if (!position) return words.start;
    const size = close(position.accuracy_m);
    if (position.how === "gps") {
      if (position.accuracy_m > COARSE_M) return fill(words.coarse, { size });
      return fill(words.by_gps, { size });
    }
    return fill(position.how === "tap" ? words.by_tap : words.by_typed, { size });
  }
  const secondsOld = () => Math.round((Date.now() - at_ms) / 1000);
  function put(part, text) {
    if (part.textContent !== text) part.textContent = text;
  }
  function show() {
    const old = position && position.how === "gps" && watch !== null && !waiting && secondsOld() >= OLD_S;
    put(state, [stateWords(), old && fill(words.old, { n: secondsOld() - (secondsOld() % 5) })].filter(Boolean).join(" "));
    state.classList.toggle("warn", Boolean(trouble) || (position !== null && position.how === "gps" && position.accuracy_m > COARSE_M));
    const now = how || (position && position.how);
    for (const [name, made] of Object.entries(ways)) made.setAttribute("aria-pressed", String(name === now));
    put(ways.gps, trouble && trouble !== words.stopped && how === "gps" && watch === null ? words.again : words.way_gps);
    follow.hidden = stop.hidden = watch === null;
    follow.setAttribute("aria-pressed", String(following));
    centre.hidden = how !== "tap";
    form.hidden = now !== "typed";
    showWay();
    showPlace();
  }
  function showPlace() {
    if (!position) return;
    const record = core.where.here(position.lon, position.lat, { sigma_m: position.accuracy_m / R95 });
    const { ground, systems } = core.reading(record, position.accuracy_m / R95);
    const at = `${position.lat.toFixed(6)}, ${position.lon.toFixed(6)}`, meant = record.field === null && slip();
    const key = JSON.stringify([ground, systems, at]);
    if (key === drawn) return;
    drawn = key;
    readout.replaceChildren(
      element("p", ground, "ground"),
      ...(meant ? [element("p", meant, "fault")] : []),
      ...systems.flatMap((system) => {
        const list = element("ul");
        list.append(...system.main.map((text) => element("li", text, "main")), ...system.lines.map((text) => element("li", text)));
        const head = element("h3", system.head);
        return [head, list];
      }),
      element("p", fill(words.at, { at }), "at"),
    );
  }
  /* Typed far off: a lost minus or numbers the wrong way round would have been at the farm. */
  function slip() {
    if (position.how !== "typed" || near()) return "";
    const { lat, lon } = position, others = [[lat, -lon], [-lat, lon], [-lat, -lon], [lon, lat], [-lon, lat], [lon, -lat], [-lon, -lat]];
    const [x, y] = middle();
    const meant = others.find(([one, two]) => Math.abs(one) <= 90 && core.where.distance(x, y, two, one).metres < FAR_M + reach_m);
    const away = core.where.distance(x, y, lon, lat).metres;
    return meant ? fill(words.slip, { length: length(away), at: meant.join(", ") }) : "";
  }

  /* ---- the way to the chosen flag ---- */
  const strip = element("p", "", "way");
  strip.hidden = true;
  document.getElementById("stage").append(strip);
  function wayWords() {
    const flag = core.chosen();
    if (!flag || !position) return "";
    const to = flag.at || (flag.ring && flag.ring.at);
    if (!to) return fill(words.no_way, flag);
    const { metres, azimuth_deg } = core.where.distance(position.lon, position.lat, ...to);
    const values = { number: flag.number, length: close(metres), compass: compass(azimuth_deg), azimuth: angle(azimuth_deg) };
    if (flag.at && metres < position.accuracy_m) return fill(words.at_flag, values);
    return fill(flag.at ? words.to_flag : words.to_pivot, values);
  }
  function showWay() {
    const text = how === "tap" ? words.tap_now : wayWords();
    put(way, how === "tap" ? "" : text);
    put(strip, text);
    way.hidden = !way.textContent;
    /* On the map too, unless the panel beside it says it already. */
    strip.hidden = !text || (Boolean(core.panel()) && how !== "tap");
  }

  /* ---- on the map: a round spot in a ring, with its word, and how far off it may be ---- */
  core.overlay(({ ctx, toPx, world }) => {
    if (!position) return;
    const [x, y] = toPx(world(position.lon, position.lat));
    const radius = position.accuracy_m / core.metresPerPixel(position.lat, map.getZoom());
    const circle = (size, paint) => { ctx.beginPath(); ctx.arc(x, y, size, 0, 2 * Math.PI); paint(); };
    const stroke = (colour, width, dash = []) => () => { ctx.strokeStyle = colour; ctx.lineWidth = width; ctx.setLineDash(dash); ctx.stroke(); ctx.setLineDash([]); };
    const paint = (colour) => () => { ctx.fillStyle = colour; ctx.fill(); };
    if (radius > 14 && radius < 20000) {
      circle(radius, paint("rgba(0, 0, 0, 0.10)"));
      circle(radius, stroke("#fff", 4));
      circle(radius, stroke("#000", 2, [3, 4]));
    }
    circle(13, paint("#fff"));
    circle(12, stroke("#000", 3));
    circle(6, paint("#000"));
    const text = position.how === "gps" ? words.you : words.here;
    ctx.font = 'bold 16px system-ui, "Liberation Sans", Arial, sans-serif';
    const wide = ctx.measureText(text).width + 12;
    ctx.fillStyle = "#000";
    ctx.fillRect(x + 17, y - 12, wide, 24);
    ctx.fillStyle = "#fff";
    ctx.textAlign = "left";
    ctx.textBaseline = "alphabetic";
    ctx.fillText(text, x + 23, y + 6);
  });

  function open() {
    if (core.panel() === words.title) return core.closePanel();
    core.openPanel(words.title, box, { closed });
    if (!position && watch === null) askPhone();
    return show();
  }
  function closed() {
    if (how !== "tap") return;
    core.takeTaps(null);
    how = "";
    show();
  }
  core.addAction(words.title, open, { name: "here" });
  core.position = () => position;
  core.hear("chosen", showWay);
  core.hear("panel", showWay);
  /* Whoever wants to see a flag does not want the map to run back. */
  core.hear("going", () => { following = false; show(); });
  core.hear("flags", showWay);
  setInterval(() => { if (watch !== null) show(); }, 5000);
  core.shown.position = () => position;
  core.shown.following = () => following;
});
