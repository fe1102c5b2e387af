/* Lines on the map that are no ground: ways of wheels, roads, what guns keep off, machines where they stand. */
function ringrowWays({ data, words, fill, on, paper }) {
  const { toPx, trace, label } = paper;
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
    const { ctx } = paper;
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
    for (const [x, y] of spots) paper.taken.push([x - 8, y - 8, x + 8, y + 8]);
    for (const box of waysOf(false).filter(({ kind }) => kind === "keep-off").flatMap((way) => way.boxes_w)) {
      const [x1, y1, x2, y2] = [...toPx(box), ...toPx(box.slice(2))];
      if (x2 - x1 < 120 && y2 - y1 < 120) paper.taken.push([x1 - 5, y1 - 5, x2 + 5, y2 + 5]);
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
  return { drawWays, keepClear, nameMarks, wayAt, wayWords };
}
