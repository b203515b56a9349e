// What came in since the chart was drawn, put behind what is there: only the newest stretches are fetched again.

const BARELY = 12;
const QUIET_MS = 600_000;
const LEAST_EVERY_MS = 5_000;
const MOST_EVERY_MS = 30_000;
const HEADROOM = 1 / 20;
const LEAST_WIDTH = 20;
// The shortest period that the service gives.
const LEAST_MS = 1_000;

// How long until the next look: a chart of an hour moves with every reading, one of a year hardly within a minute.
export function pauseMs(series) {
  const widthMs = Math.min(...series.map((each) => each.width_ms));
  return Math.min(MOST_EVERY_MS, Math.max(LEAST_EVERY_MS, widthMs / 60));
}

// From when on everything is fetched again: the beginning of the oldest of the newest stretches. A channel that has
// been silent for long does not reach back further, and a stretch that has just begun is fetched with the one before.
export function tailFrom(series, untilMs, fromMs) {
  const lastMs = untilMs - LEAST_MS;
  const newest = ({ buckets, width_ms: widthMs }) => [[...buckets.start_ms].reverse().find((startMs) => startMs <= lastMs), widthMs];
  const recent = series.map(newest).filter(
    ([startMs, widthMs]) => startMs !== undefined && startMs > untilMs - BARELY * widthMs - QUIET_MS,
  );
  const starts = recent.map(([startMs]) => startMs);
  return Math.min(lastMs, Math.max(fromMs, starts.length ? Math.min(...starts) : untilMs - QUIET_MS));
}

// In how many stretches it is fetched: as fine as what is there, and not coarse where the clock was set on meanwhile.
export function tailWidth(series, tailMs, nowMs) {
  const widthMs = Math.min(...series.map((each) => each.width_ms));
  return Math.max(LEAST_WIDTH, Math.ceil((nowMs + pauseMs(series) - tailMs) / widthMs));
}

// The same stretches, those from a moment on exchanged for what was fetched.
export function joined(old, tail, tailMs, bridgeMs) {
  return old.map((series) => {
    const found = tail.find((each) => each.channel === series.channel);
    const kept = series.buckets.start_ms.filter((startMs) => startMs < tailMs).length;
    const lastMs = series.buckets.last_ms.slice(0, kept).reverse().find((each) => each !== null) ?? null;
    const buckets = {};
    for (const [name, values] of Object.entries(series.buckets)) {
      buckets[name] = [...values.slice(0, kept), ...found.buckets[name]];
    }
    // What was fetched does not know of the reading before it.
    const first = buckets.first_ms.findIndex((each, n) => n >= kept && each !== null);
    if (first >= 0 && lastMs !== null) {
      buckets.gap_before[first] = buckets.first_ms[first] - lastMs > bridgeMs;
    }
    return { ...series, buckets };
  });
}

// The whole period once its end is reached. It moves on in steps and nothing slides: a moving picture is hard to read.
export function movedOn([fromMs, untilMs], nowMs, follow) {
  if (nowMs <= untilMs || !follow) {
    return [fromMs, untilMs];
  }
  const nextMs = nowMs + (untilMs - fromMs) * HEADROOM;
  return [follow === "slide" ? nextMs - (untilMs - fromMs) : fromMs, nextMs];
}
