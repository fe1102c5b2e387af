/* Flags on the map: their symbols, and places for them where they do not hide each other. */
function ringrowFlags({ data, on, paper, chosen }) {
  const { toPx, dotAt } = paper;
  /* What stands on the screen: the flag, its spot, and where its symbol was put. */
  const drawn = [];
  let symbolSize = 1;
  function symbolPath(status, x, y, size) {
    const { ctx } = paper;
    ctx.beginPath();
    const corners = data.symbols.shapes[status];
    if (!corners) ctx.arc(x, y, data.symbols.radius * size, 0, 2 * Math.PI);
    else corners.forEach(([dx, dy], i) => (i ? ctx.lineTo(x + dx * size, y + dy * size) : ctx.moveTo(x + dx * size, y + dy * size)));
    ctx.closePath();
  }
  function drawSymbol(flag, x, y) {
    const { ctx } = paper;
    ctx.lineJoin = "round";
    symbolPath(flag.status, x, y, symbolSize);
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = flag === chosen() ? 16 : 9;
    if (flag === chosen()) { ctx.strokeStyle = "#000"; ctx.stroke(); ctx.strokeStyle = "#fff"; ctx.lineWidth = 10; }
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
    drawn.length = 0;
    const seen = data.flags
      .filter((flag) => flag.at)
      .map((flag) => ({ flag, spot: toPx(flag.at_w) }))
      .filter(({ spot: [x, y] }) => x > paper.view[0] && x < paper.view[2] && y > paper.view[1] && y < paper.view[3]);
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
      drawn.push({ flag, spot, place });
      paper.taken.push([place[0] - half, place[1] - half, place[0] + half, place[1] + half]);
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
    const onScreen = ([px, py]) => px > paper.screen[0] + 22 && px < paper.screen[2] - 22 && py > paper.screen[1] + 22 && py < paper.screen[3] - 22;
    return [...all.filter(onScreen), ...all.filter((at) => !onScreen(at))];
  }
  function drawLeaders() {
    const { ctx } = paper;
    ctx.strokeStyle = "#000";
    ctx.lineWidth = 2;
    for (const { spot, place } of drawn) {
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
    for (const { flag, place } of [...drawn].reverse()) drawSymbol(flag, ...place);
  }
  return { drawn, placeFlags, drawLeaders, drawFlags };
}
