/* Drip laterals on the map, and their numbers. */
function ringrowLaterals({ map, data, paper, overPhoto }) {
  const { world, unpack, boxOf, toLonLat, toXy, clip } = ringrowPlaces;
  const { toPx, inView, label } = paper;
  for (const block of data.blocks) {
    let number = 0;
    block.lateral = Int32Array.from(block.lateral, (step) => (number += step));
    block.boxes_w = data.areas.find((area) => area.kind === "wetted-area" && area.name === block.name).boxes_w;
    if (block.rings) {
      block.lines_w = unpack(block.rings, data.bounds, data.step);
      block.line_boxes_w = block.lines_w.map(boxOf);
      continue;
    }
    block.start = Float64Array.from(block.start_dm, (value) => value / 10);
    block.stop = Float64Array.from(block.stop_dm, (value) => value / 10);
  }
  /* First piece whose lateral number is at least `number`. */
  function firstPiece(block, number) {
    let low = 0, high = block.lateral.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (block.lateral[middle] < number) low = middle + 1;
      else high = middle;
    }
    return low;
  }
  /* Laterals along a curve: whole lines, and for a label two places on each some way apart. */
  function traceCurves(block, every, numbers, step) {
    const { ctx } = paper;
    block.lines_w.forEach((line, index) => {
      if (block.lateral[index] % step || !inView(block.line_boxes_w[index])) return;
      let begun = null, named = step > 1 || block.lateral[index] % every !== 0;
      for (let i = 0; i < line.length; i += 2) {
        const x = line[i] * paper.scale - paper.shiftX, y = line[i + 1] * paper.scale - paper.shiftY;
        if (i === 0) ctx.moveTo(x, y);
        else ctx.lineTo(x, y);
        if (named) continue;
        const shown = x > paper.screen[0] && x < paper.screen[2] && y > paper.screen[1] && y < paper.screen[3];
        if (begun && Math.hypot(x - begun[0], y - begun[1]) > 62) {
          numbers.push([block.lateral[index], [...begun, x, y]]);
          named = true;
        } else if (shown && !begun) begun = [x, y];
      }
    });
  }
  /* Laterals only when three pixels or more apart, and only those in view: never more than a screen full. */
  function drawLaterals(metres) {
    const { ctx } = paper;
    const corners = [[0, 0], [1, 0], [0, 1], [1, 1]].map(([i, j]) => {
      const at = map.layerPointToLatLng([paper.view[i ? 2 : 0], paper.view[j ? 3 : 1]]);
      return [at.lng, at.lat];
    });
    const numbers = [];
    for (const block of data.blocks) {
      const apart = block.spacing_m / metres;
      /* Far out, a curve that stands for many shows which way they run. */
      const step = apart < 3 ? Math.ceil(10 / apart) : 1;
      if ((step > 1 && !block.lines_w) || !block.lateral.length || !block.boxes_w.some(inView)) continue;
      ctx.strokeStyle = overPhoto() ? "#fff" : "#1b4f72";
      ctx.lineWidth = Math.min(2, Math.max(0.6, apart / 7));
      ctx.beginPath();
      const every = [1, 2, 5, 10, 20, 50, 100].find((step) => step * apart >= 30) || 200;
      if (block.lines_w) {
        traceCurves(block, every, numbers, step);
        ctx.stroke();
        continue;
      }
      const across = corners.map(([lon, lat]) => {
        const [x, y] = toXy(block, lon, lat);
        return (x - block.origin[0]) * block.across[0] + (y - block.origin[1]) * block.across[1];
      });
      const number = (c) => 1 + (c - block.first_m) / block.spacing_m;
      const from = Math.ceil(number(Math.min(...across))), to = Math.floor(number(Math.max(...across)));
      for (let i = firstPiece(block, from); i < block.lateral.length && block.lateral[i] <= to; i += 1) {
        const c = block.first_m + (block.lateral[i] - 1) * block.spacing_m;
        const ends = [block.start[i], block.stop[i]].map((s) => toPx(world(...toLonLat(
          block,
          block.origin[0] + s * block.along[0] + c * block.across[0],
          block.origin[1] + s * block.along[1] + c * block.across[1],
        ))));
        const seen = clip(paper.view, [...ends[0], ...ends[1]]);
        if (!seen) continue;
        ctx.moveTo(seen[0], seen[1]);
        ctx.lineTo(seen[2], seen[3]);
        if (block.lateral[i] % every === 0 || every === 1) numbers.push([block.lateral[i], seen]);
      }
      ctx.stroke();
    }
    return numbers;
  }
  function labelLaterals(numbers) {
    for (const [number, line] of numbers) {
      const seen = clip(paper.screen, line);
      if (!seen) continue;
      const [x1, y1, x2, y2] = seen;
      const long = Math.hypot(x2 - x1, y2 - y1), reach = Math.min(0.5, 120 / Math.max(long, 1));
      if (long > 60) label([String(number)], x1 + reach * (x2 - x1), y1 + reach * (y2 - y1), 15, { still: true });
    }
  }
  return { drawLaterals, labelLaterals };
}
