// Makes the drawings of the page into a chart to zoom in: what is in view is fetched anew, as fine as the screen is
// wide, and what comes in is added. Where anything fails, the drawings stay as they are.

import { Drawing } from "./chart-drawing.js";
import { joined, movedOn, pauseMs, tailFrom, tailWidth } from "./chart-live.js";

const place = document.getElementById("live-chart");
const said = document.getElementById("live-chart-said");
const asOf = document.getElementById("live-chart-as-of");
const drawings = document.getElementById("drawings");
const tools = document.getElementById("chart-tools");
const SETTLE_MS = 250;
const PANEL_PX = 300;
const LEGEND_ROW_PX = 44;
const MOST_POINTS = 2000;
// After so long everything in view is fetched again: readings may have come in late.
const ANEW_MS = 300_000;
const OPTIONS = {
  displaylogo: false, responsive: true, displayModeBar: false,
};

const asked = new URLSearchParams(place.dataset.query);
const follow = place.dataset.follow;
const first = [Number(asked.get("from")), Number(asked.get("until"))];
let whole = first;
let shown = whole;
let offsets = [[0, 0]];
let known = [0, 0];
let answer = null;
let fetchedAt = 0;
let nowMs = Number(place.dataset.now);
// The time that is pointed at, in which drawing; and whether the pointer is there at all.
let hovered = null;
let hoveredIn = "xy";
let isPointed = false;
let isHeld = false;
let waiting = 0;
let looking = 0;
let turn = 0;

// The library draws times without a zone, so it is given the clock of the site.
function offsetAt(utcMs) {
  let found = offsets[0][1];
  for (const [fromMs, offsetMs] of offsets) {
    if (fromMs <= utcMs) {
      found = offsetMs;
    }
  }
  return found;
}

const local = (utcMs) => new Date(utcMs + offsetAt(utcMs)).toISOString().slice(0, 23);

// The number by which the library knows a time that it tells as text.
const wall = (localText) => Date.parse(`${String(localText).replace(" ", "T").slice(0, 23)}Z`);

function utc(localText) {
  const wallMs = wall(localText);
  return wallMs - offsetAt(wallMs - offsetAt(wallMs));
}

function addressOf(path, [fromMs, untilMs], width) {
  const query = new URLSearchParams(asked.getAll("channel").map((channel) => ["channel", channel]));
  query.append("from", String(Math.round(fromMs)));
  if (untilMs !== null) {
    query.append("until", String(Math.round(untilMs)));
  }
  query.append("width", String(width));
  return `${path}?${query}`;
}

async function read(span, width) {
  const found = await fetch(addressOf("/api/series", span, width));
  const content = await found.json();
  if (!found.ok) {
    throw new Error(content.detail ?? "The readings could not be fetched.");
  }
  return content;
}

async function draw() {
  const page = {
    place, local, inFahrenheit: place.dataset.fahrenheit === "1", fromMs: shown[0], untilMs: shown[1], nowMs, bridgeMs: answer.bridge_ms,
  };
  const drawing = new Drawing(page, answer.series);
  const pointedAt = hovered;
  place.hidden = false;
  const height = PANEL_PX * drawing.sorts.length + LEGEND_ROW_PX * answer.series.length + 60;
  await globalThis.Plotly.react(place, drawing.data(), { ...drawing.layout(shown), height }, OPTIONS);
  // Somebody may have pointed at something while it was drawn, which takes what was told of it away.
  const xval = hovered ?? pointedAt;
  if (xval !== null && isPointed) {
    globalThis.Plotly.Fx.hover(place, { xval: wall(xval) }, [hoveredIn]);
  }
  document.getElementById("export-csv").href = addressOf("/api/series.csv", shown, MOST_POINTS);
  place.dataset.shown = shown.map(Math.round).join(" ");
  place.dataset.points = String(Math.max(0, ...answer.series.map((series) => series.buckets.good.length)));
  place.dataset.newest = String(Math.max(0, ...answer.series.map((series) => [...series.buckets.last_ms].reverse().find((each) => each !== null) ?? 0)));
  asOf.textContent = follow ? `As of ${local(nowMs).slice(11, 19)}. New readings come in by themselves.` : "";
  said.textContent = "";
}

const screenWidth = () => Math.min(MOST_POINTS, Math.max(100, drawings.parentElement.clientWidth));

async function fetchAndDraw() {
  const mine = ++turn;
  const found = await read(shown, screenWidth());
  if (mine !== turn) {
    return;
  }
  // A part that is zoomed into needs no other clock than the whole, by which the way back is known again.
  if (found.from_ms < known[0] || found.until_ms > known[1]) {
    offsets = found.utc_offsets;
    known = [found.from_ms, found.until_ms];
  }
  answer = found;
  fetchedAt = performance.now();
  await draw();
}

function failed(error) {
  said.textContent = `The chart could not be brought up to date (${error.message}). What is shown is older; load the page again.`;
}

// A part that was zoomed into is kept as it is, and needs nothing new where all of it is over.
async function look() {
  const isWhole = shown === whole;
  if (document.hidden || isHeld || answer === null || (!isWhole && shown[1] < nowMs)) {
    return;
  }
  if (performance.now() - fetchedAt > ANEW_MS || answer.series.some((series) => series.buckets.good.length > 2 * screenWidth())) {
    nowMs += performance.now() - fetchedAt;
    followOn(isWhole);
    await fetchAndDraw();
    return;
  }
  const mine = ++turn;
  const tailMs = tailFrom(answer.series, nowMs, shown[0]);
  const tail = await read([tailMs, null], Math.min(screenWidth(), tailWidth(answer.series, tailMs, nowMs)));
  if (mine !== turn || isHeld) {
    return;
  }
  nowMs = tail.until_ms;
  answer = { ...answer, series: joined(answer.series, tail.series, tailMs, answer.bridge_ms) };
  followOn(isWhole);
  await draw();
}

function followOn(isWhole) {
  whole = movedOn(whole, nowMs, follow);
  if (isWhole) {
    shown = whole;
  }
}

function lookAgain() {
  clearTimeout(looking);
  if (follow) {
    looking = setTimeout(() => look().catch(failed).finally(lookAgain), answer === null ? 5_000 : pauseMs(answer.series));
  }
}

// The two ends in UTC; those of the whole exactly, since they are the ones that were asked for.
function back(range) {
  const found = range.map(utc);
  const isSame = (span) => span.every((each, n) => Math.abs(utc(local(each)) - found[n]) < 1000);
  return isSame(whole) || isSame(first) ? whole : found;
}

function moved(change) {
  let next = shown;
  if (change["xaxis.autorange"]) {
    next = whole;
  } else if (change["xaxis.range[0]"] !== undefined) {
    next = back([change["xaxis.range[0]"], change["xaxis.range[1]"]]);
  } else if (Array.isArray(change["xaxis.range"])) {
    next = back(change["xaxis.range"]);
  }
  if (next.every((each, n) => Math.abs(each - shown[n]) < 1)) {
    return;
  }
  shown = next !== whole && next[1] - next[0] < 1000 ? [next[0], next[0] + 1000] : next;
  clearTimeout(waiting);
  waiting = setTimeout(() => fetchAndDraw().catch(failed), SETTLE_MS);
}

// How long a part is seen after a step in or out, against now; never more than the whole.
function zoom(factor) {
  const middle = (shown[0] + shown[1]) / 2;
  const half = ((shown[1] - shown[0]) / 2) * factor;
  show([Math.max(whole[0], middle - half), Math.min(whole[1], middle + half)]);
}

function show(span) {
  globalThis.Plotly.relayout(place, { "xaxis.range": span.map(local) }).catch(failed);
}

function begin() {
  drawings.hidden = true;
  tools.hidden = false;
  document.getElementById("zoom-in").addEventListener("click", () => zoom(0.5));
  document.getElementById("zoom-out").addEventListener("click", () => zoom(2));
  document.getElementById("zoom-whole").addEventListener("click", () => show(whole));
  document.getElementById("save-picture").addEventListener("click", () => {
    globalThis.Plotly.downloadImage(place, { filename: "chart", format: "png", scale: 2 }).catch(failed);
  });
  place.on("plotly_relayout", moved);
  place.on("plotly_hover", (event) => {
    hovered = event.xvals?.[0] ?? null;
    hoveredIn = `x${event.points[0].yaxis._id}`;
  });
  place.on("plotly_unhover", () => {
    hovered = null;
  });
  place.addEventListener("pointermove", () => {
    isPointed = true;
  });
  place.addEventListener("pointerleave", (event) => {
    // A finger that is lifted has pointed at what is to be read then.
    isPointed = isPointed && event.pointerType !== "mouse";
  });
  place.addEventListener("pointerdown", () => {
    isHeld = true;
  });
  for (const name of ["pointerup", "pointercancel"]) {
    addEventListener(name, () => {
      isHeld = false;
    });
  }
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => draw().catch(failed));
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) {
      look().catch(failed).finally(lookAgain);
    }
  });
  lookAgain();
}

// The library is large, and the drawings of the page are there without it: it is fetched once all else is.
function fetchLibrary() {
  const script = document.createElement("script");
  script.src = place.dataset.library;
  script.addEventListener("load", () => {
    fetchAndDraw().then(begin).catch((error) => {
      place.hidden = true;
      failed(error);
    });
  });
  document.head.append(script);
}

if (document.readyState === "complete") {
  fetchLibrary();
} else {
  addEventListener("load", fetchLibrary, { once: true });
}
