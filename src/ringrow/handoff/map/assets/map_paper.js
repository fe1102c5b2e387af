/* The paper that the map is drawn on: the canvas at its present scale, and where labels stand already. */
function ringrowPaper() {
  const paper = { ctx: null, scale: 1, shiftX: 0, shiftY: 0, view: [], screen: [], taken: [] };
  const toPx = (w) => [w[0] * paper.scale - paper.shiftX, w[1] * paper.scale - paper.shiftY];
  const inView = ([x1, y1, x2, y2]) => {
    const { scale, shiftX, shiftY, view } = paper;
    return x2 * scale - shiftX >= view[0] && x1 * scale - shiftX <= view[2] && y2 * scale - shiftY >= view[1] && y1 * scale - shiftY <= view[3];
  };
  /* Put lines or rings in view into the pen's path; false when there are none. */
  function trace(item, close) {
    const { ctx } = paper;
    let any = false;
    ctx.beginPath();
    item.lines_w.forEach((line, index) => {
      const box = item.boxes_w[index];
      /* A ring under a pixel adds nothing either. */
      if (!inView(box) || Math.max(box[2] - box[0], box[3] - box[1]) * paper.scale < 0.7) return;
      any = true;
      for (let i = 0; i < line.length; i += 2) {
        const x = line[i] * paper.scale - paper.shiftX, y = line[i + 1] * paper.scale - paper.shiftY;
        if (i === 0) ctx.moveTo(x, y);
        else ctx.lineTo(x, y);
      }
      if (close) ctx.closePath();
    });
    return any;
  }
  function hatch(key, size, paint) {
    if (!hatch[key]) {
      const tile = document.createElement("canvas");
      tile.width = tile.height = size;
      const pen = tile.getContext("2d");
      pen.lineWidth = 1.2;
      paint(pen);
      pen.stroke();
      hatch[key] = paper.ctx.createPattern(tile, "repeat");
    }
    return hatch[key];
  }
  function text(words_, x, y, size, centre = true) {
    const { ctx } = paper;
    ctx.font = `bold ${size}px system-ui, "Liberation Sans", Arial, sans-serif`;
    ctx.textAlign = centre ? "center" : "left";
    ctx.textBaseline = "alphabetic";
    ctx.lineJoin = "round";
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 5;
    ctx.strokeText(words_, x, y);
    ctx.fillStyle = "#000";
    ctx.fillText(words_, x, y);
  }
  /* A label where no other one stands; false when there is no room. */
  function label(lines, x, y, size, { room = Infinity, still = false, offsets = null, within = null } = {}) {
    const { ctx } = paper;
    ctx.font = `bold ${size}px system-ui, "Liberation Sans", Arial, sans-serif`;
    const wide = Math.max(...lines.map((line) => ctx.measureText(line).width)) + 6;
    const high = lines.length * size * 1.2;
    if (wide > room) return false;
    if (within && within[2] - within[0] > wide + 10) x = Math.max(within[0] + wide / 2 + 4, Math.min(within[2] - wide / 2 - 4, x));
    if (within && within[3] - within[1] > high + 10) y = Math.max(within[1] + high / 2 + 4, Math.min(within[3] - high / 2 - 4, y));
    const shown = x > paper.screen[0] && x < paper.screen[2];
    if (x < paper.view[0] || x > paper.view[2] || y < paper.view[1] || y > paper.view[3]) return false;
    const around = [[0, 0], [0, -size * 1.8], [0, size * 1.8], [size * 2.2, 0], [-size * 2.2, 0]];
    for (const [dx, dy] of offsets || (still ? [[0, 0]] : around)) {
      const box = [x + dx - wide / 2, y + dy - high / 2, x + dx + wide / 2, y + dy + high / 2];
      if (within && (dx || dy) && (box[0] < within[0] || box[1] < within[1] || box[2] > within[2] || box[3] > within[3])) continue;
      if (shown && !still && (box[0] < paper.screen[0] || box[2] > paper.screen[2])) continue;
      if (paper.taken.some((other) => box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3])) continue;
      paper.taken.push(box);
      lines.forEach((line, i) => text(line, x + dx, box[1] + size * (0.95 + 1.2 * i), size));
      return true;
    }
    return false;
  }
  function dotAt([x, y], radius) {
    const { ctx } = paper;
    ctx.beginPath();
    ctx.arc(x, y, radius, 0, 2 * Math.PI);
    ctx.fillStyle = "#000";
    ctx.fill();
    ctx.strokeStyle = "#fff";
    ctx.lineWidth = 2;
    ctx.stroke();
    ctx.strokeStyle = "#000";
  }
  return Object.assign(paper, { toPx, inView, trace, hatch, text, label, dotAt });
}
