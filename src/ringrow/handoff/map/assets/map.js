/* The live map. Text from people is only ever put in through textContent. */
function ringrowMap(map) {
  const data = JSON.parse(document.getElementById("data").textContent);
  const words = data.words;
  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => String(values[name]));
  const on = Object.fromEntries(data.layers.map((layer) => [layer.key, layer.on]));
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const { world, metresPerPixel, unpack, boxOf, inside, columnName } = ringrowPlaces;
  const paper = ringrowPaper(), { toPx, trace, hatch, text, label, dotAt } = paper;

  /* ---- what the other parts of the page hook into ---- */
  const overlays = [], hearers = {};
  let tapTaker = null, coveredPx = () => 0;
  const hear = (what, act) => (hearers[what] ||= []).push(act);
  const tell = (what, detail) => (hearers[what] || []).forEach((act) => act(detail));

  /* ---- positions on the map, once ---- */
  for (const item of [...data.areas, ...data.tracks, ...data.ends, ...data.ways, ...data.grounds]) {
    item.lines_w = unpack(item.rings, data.bounds, data.step);
    item.boxes_w = item.lines_w.map(boxOf);
    if (item.label) item.label_w = world(...item.label);
  }
  for (const point of [...data.points, ...data.ways.flatMap((way) => way.marks)]) point.at_w = world(...point.at);
  for (const flag of data.flags) if (flag.at) flag.at_w = world(...flag.at);

  /* ---- drawing ---- */
  let chosen = null, closeUp = false;
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
  const { drawLaterals, labelLaterals } = ringrowLaterals({ map, data, paper, overPhoto });
  const { drawWays, keepClear, nameMarks, wayAt, wayWords } = ringrowWays({ data, words, fill, on, paper });
  const { drawn, placeFlags, drawLeaders, drawFlags } = ringrowFlags({ data, on, paper, chosen: () => chosen });
  function casing(width) {
    const { ctx } = paper;
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = width + 3;
    ctx.stroke();
  }
  function drawAreas(kind) {
    const { ctx } = paper;
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
    const { ctx } = paper;
    ctx.strokeStyle = "#1b4f72";
    ctx.lineWidth = 3;
    for (const end of data.ends) {
      ctx.setLineDash(end.kind === "header" ? [] : [9, 6]);
      if (trace(end, false)) ctx.stroke();
    }
    ctx.setLineDash([]);
  }
  function drawTracks() {
    const { ctx } = paper;
    ctx.strokeStyle = "#333";
    ctx.lineWidth = 1.2;
    for (const track of data.tracks) {
      if (!trace(track, false)) continue;
      if (overPhoto()) { casing(0.5); ctx.strokeStyle = "#333"; ctx.lineWidth = 1.2; }
      ctx.stroke();
    }
  }

  /* ---- what the chosen flag touches: grey only, so that it prints and reads without colour ---- */
  const TOUCHED = {
    dry: { size: 11, dash: [7, 4], paint: (pen) => { pen.fillRect(1, 1, 3.5, 3.5); pen.fillRect(6.5, 6.5, 3.5, 3.5); } },
    wet: { size: 8, dash: [], paint: (pen) => pen.fillRect(0, 2, 8, 2.5) },
    stopped: { size: 16, dash: [], paint: (pen) => { pen.lineWidth = 2; for (const d of [-16, 0, 16]) { pen.moveTo(d, 16); pen.lineTo(d + 16, 0); } } },
  };
  function drawTouched() {
    const { ctx } = paper;
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

  function drawPoints() {
    const { ctx } = paper;
    for (const point of data.points) {
      const [x, y] = toPx(point.at_w);
      if (x < paper.view[0] || x > paper.view[2] || y < paper.view[1] || y > paper.view[3]) continue;
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
      paper.taken.push([x - 13, y - 13, x + 13, y + 13]);
    }
  }
  const wide = (area) => paper.scale * (Math.max(...area.boxes_w.map((box) => box[2])) - Math.min(...area.boxes_w.map((box) => box[0])));
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
    const { ctx } = paper;
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
  function drawGrid(metres) {
    const { ctx } = paper;
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
        if (x < paper.view[0] || x > paper.view[2] || y < paper.view[1] || y > paper.view[3]) continue;
        if (cell >= 56) label([columnName(i) + (j + 1)], x, y, 15, { still: true });
        else if (i === 0 || j === 0) text(i === 0 && j === 0 ? "A1" : i === 0 ? String(j + 1) : columnName(i), x, y + 5, 13);
      }
    }
  }

  const Painter = L.Canvas.extend({
    _draw() {
      if (!this._map || !this._bounds) return;
      paper.ctx = this._ctx;
      paper.scale = Math.pow(2, map.getZoom());
      ({ x: paper.shiftX, y: paper.shiftY } = map.getPixelOrigin());
      const { min, max } = this._bounds;
      paper.view = [min.x, min.y, max.x, max.y];
      const corner = map.containerPointToLayerPoint([0, 0]), size = map.getSize();
      paper.screen = [corner.x, corner.y, corner.x + size.x, corner.y + size.y];
      /* No labels under the buttons, the scale bar and the north arrow. */
      paper.taken = [
        [paper.screen[0], paper.screen[1], paper.screen[2], paper.screen[1] + 56],
        [paper.screen[0], paper.screen[3] - 66, paper.screen[0] + 130, paper.screen[3]],
        [paper.screen[2] - 44, paper.screen[3] - 80, paper.screen[2], paper.screen[3]],
      ];
      const metres = metresPerPixel(map.getCenter().lat, map.getZoom());
      closeUp = on.laterals && data.blocks.some((block) => block.spacing_m / metres >= 3);
      paper.ctx.save();
      if (on.flags) placeFlags();
      else drawn.length = 0;
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
      for (const draw of overlays) draw({ ctx: paper.ctx, toPx, world, metres, screen: paper.screen });
      paper.ctx.restore();
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
    /* Clear of tools, scale and the way to the flag; where the map is too low for that, they make room. */
    const size = map.getSize(), strip = stage.querySelector(".way:not([hidden])");
    const low = size.y < 400, foot = low ? 10 : 68;
    stage.classList.toggle("low", low);
    const top = low ? 8 : strip ? strip.offsetTop + strip.offsetHeight + 4 : 60;
    L.popup({
      maxWidth: Math.min(340, size.x - 60),
      maxHeight: Math.max(110, size.y - coveredPx() - top - foot - 64),
      minWidth: Math.min(220, size.x - 60),
      offset: [0, -up],
      autoPanPaddingTopLeft: [10, top],
      autoPanPaddingBottomRight: [10, foot + coveredPx()],
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
    const symbol = drawn.find((one) => one.flag === flag);
    if (symbol) {
      const { lng, lat } = map.layerPointToLatLng(symbol.place);
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
    const near = drawn.map((symbol) => ({ ...symbol, far: Math.hypot(symbol.place[0] - x, symbol.place[1] - y) }))
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
  map.on("popupopen popupclose", ({ type }) => stage.classList.toggle("bubbled", type === "popupopen"));
  map.on("popupopen", () => { if (!document.getElementById("layers").hidden) tools.querySelector("[aria-controls=layers]").click(); });
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
        const symbol = drawn.find(({ flag }) => flag.id === id);
        return symbol ? map.layerPointToContainerPoint(symbol.place) : null;
      },
      ...core.shown,
    }),
  });
}
