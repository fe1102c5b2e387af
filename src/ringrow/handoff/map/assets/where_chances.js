/* How likely each outlet and each lateral is, seen from one fix that may be feet off. */
const ringrowChances = (() => {
  const LAYING_SIGMA_M = 1.3 * 0.0254, HELD = 0.95, LEAST = 0.001;

  /* Share of the normal law below z, by the series in odd powers: every term has the sign of z. */
  function below(z) {
    if (!(Math.abs(z) < 9)) return z > 0 ? 1 : 0;
    let sum = z, term = z;
    for (let n = 3; Math.abs(term) > 1e-18 && n < 400; n += 2) sum += term *= (z * z) / n;
    return 0.5 + (sum * Math.exp((-z * z) / 2)) / Math.sqrt(2 * Math.PI);
  }
  const rounded = (chance) => Math.round(chance * 1e12) / 1e12;

  /* Chance that the true place lies in a strip so far from the fix; both terms from the lower tail. */
  function strip(offset, width, sigma) {
    const away = Math.abs(offset), half = width / 2;
    return below((half - away) / sigma) - below(-(half + away) / sigma);
  }

  /* The nearest outlet, its chance, and the shortest run of outlets around it that holds 0.95. */
  function outlets(outlets_m, distance, sigma) {
    const count = outlets_m.length;
    if (!count) return null;
    const middle = (i) => (outlets_m[i - 1] + outlets_m[i]) / 2;
    /* The cells of the first and of the last outlet are open-ended. */
    const edge = (i) => (i === 0 ? -Infinity : i === count ? Infinity : middle(i));
    let nearest = 0;
    for (let high = count - 1; nearest < high; ) {
      const half = (nearest + high) >> 1;
      if (middle(half + 1) < distance) nearest = half + 1;
      else high = half;
    }
    const between = (first, last) => {
      const low = (edge(first) - distance) / sigma, high = (edge(last + 1) - distance) / sigma;
      return low > 0 ? below(-low) - below(-high) : below(high) - below(low);
    };
    let best = { first: 0, last: count - 1, chance: 1 };
    let last = nearest;
    while (last < count - 1 && rounded(between(nearest, last)) < HELD) last += 1;
    /* A run that starts so far before the nearest outlet has at least that many more. */
    for (let first = nearest; first >= 0 && nearest - first <= best.last - best.first; first -= 1) {
      while (last > nearest && rounded(between(first, last - 1)) >= HELD) last -= 1;
      const chance = rounded(between(first, last)), fewer = best.last - best.first - (last - first);
      if (chance >= HELD && (fewer > 0 || (fewer === 0 && chance >= best.chance))) best = { first, last, chance };
    }
    return { outlet: nearest + 1, range: [best.first + 1, best.last + 1], chance: between(nearest, nearest) };
  }

  /* The laterals a fix may belong to, likeliest first. `hasTape(number, near_m)` tells whether a lateral has
     tape so near along the row; what is left over belongs to none of them. */
  function laterals({ first_m, spacing_m, count }, across, fix_m, hasTape) {
    const sigma = Math.hypot(fix_m, LAYING_SIGMA_M), found = [];
    const reach = Math.min(Math.ceil((8 * sigma) / spacing_m) + 1, count);
    const middle = Math.min(Math.max(Math.round((across - first_m) / spacing_m) + 1, 1), count);
    let sum = 0;
    for (let lateral = Math.max(middle - reach, 1); lateral <= Math.min(middle + reach, count); lateral += 1) {
      const chance = strip(across - (first_m + (lateral - 1) * spacing_m), spacing_m, sigma);
      if (chance < 1e-16 || !hasTape(lateral, 3 * sigma)) continue;
      sum += chance;
      found.push({ lateral, chance });
    }
    /* Rounded, so that two laterals equally far away come by number and not by the last bit. */
    found.sort((a, b) => rounded(b.chance) - rounded(a.chance) || a.lateral - b.lateral);
    const candidates = [];
    let before = 0;
    for (const each of found) {
      if (before < HELD && each.chance >= LEAST) candidates.push(each);
      before += each.chance;
    }
    return { candidates, elsewhere: Math.max(1 - sum, 0) };
  }

  return Object.freeze({ below, outlets, laterals });
})();
