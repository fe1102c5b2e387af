/* The drawn maps and the drawn machines, which are what prints: a flag that changed here changes there,
   one that was set here is added to the drawing of its field, else to that of the whole farm. */
ringrowParts.push((core) => {
  const { data } = core;
  const SCALE = data.symbols.drawn, APART = 40 * SCALE;
  const drawn = new Map();
  for (const group of document.querySelectorAll("svg.drawing g.flag[data-of]")) {
    const id = group.dataset.of;
    drawn.set(id, [...(drawn.get(id) || []), group]);
  }
  const said = new Map(data.flags.map((flag) => [flag.id, `${flag.status} ${flag.number}`]));

  function drawingOf(flag) {
    const index = data.where.fields.findIndex(({ name }) => name === flag.field);
    return document.querySelector(`#field-${index + 1} svg.drawing`) || document.querySelector("#whole-farm svg.drawing")
      || document.querySelector("#drawn svg.drawing");
  }
  function spot(svg, [lon, lat]) {
    const [lon0, lat0, x0, y0, xLon, yLon, xLat, yLat] = svg.dataset.px.split(" ").map(Number);
    return [x0 + (lon - lon0) * xLon + (lat - lat0) * xLat, y0 + (lon - lon0) * yLon + (lat - lat0) * yLat];
  }
  /* Beside what stands there already: nearest free of rings about the spot. */
  function free(svg, [x, y]) {
    const others = [...svg.querySelectorAll("g.flag")].map((group) => {
      const { e, f } = group.transform.baseVal.consolidate().matrix;
      return [e, f];
    });
    const clear = ([px, py]) => others.every(([ox, oy]) => Math.hypot(px - ox, py - oy) >= APART);
    const rings = [[x, y]];
    for (let half = 1; half <= 8; half += 1) {
      for (let turn = 0; turn < 16; turn += 1) {
        const angle = (turn * Math.PI) / 8, far = (APART * half) / 2;
        rings.push([x + far * Math.cos(angle), y + far * Math.sin(angle)]);
      }
    }
    return rings.find(clear) || [x, y];
  }
  function add(flag) {
    const svg = flag.at && drawingOf(flag);
    if (!svg || !svg.dataset.px) return;
    const at = spot(svg, flag.at), [x, y] = free(svg, at), parts = [];
    if (x !== at[0] || y !== at[1]) {
      parts.push(core.svg("line", { class: "leader", x1: at[0], y1: at[1], x2: x, y2: y }));
      parts.push(core.svg("circle", { class: "spot", cx: at[0], cy: at[1], r: 5 }));
    }
    const group = core.flagSymbol(flag);
    group.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${SCALE})`);
    group.dataset.of = flag.id;
    group.parts = parts;
    svg.append(...parts, group);
    drawn.set(flag.id, [group]);
  }
  function change(flag) {
    drawn.set(flag.id, drawn.get(flag.id).map((old) => {
      const group = core.flagSymbol(flag);
      group.setAttribute("transform", old.getAttribute("transform"));
      group.dataset.of = flag.id;
      group.parts = old.parts;
      old.replaceWith(group);
      return group;
    }));
  }
  core.hear("flags", () => {
    const here = new Set(data.flags.map((flag) => flag.id));
    for (const [id, groups] of drawn) {
      if (here.has(id)) continue;
      for (const group of groups) { for (const part of group.parts || []) part.remove(); group.remove(); }
      drawn.delete(id);
      said.delete(id);
    }
    for (const flag of data.flags) {
      const now = `${flag.status} ${flag.number}`;
      if (!drawn.has(flag.id)) add(flag);
      else if (said.get(flag.id) !== now) change(flag);
      said.set(flag.id, now);
    }
  });
});
