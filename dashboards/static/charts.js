// Makes the drawings of the page into a chart to zoom in: what is in view is fetched anew, as fine as the screen is wide.
// Where anything fails, the drawings stay as they are.

const place = document.getElementById("live-chart");
const said = document.getElementById("live-chart-said");
const drawings = document.getElementById("drawings");
const DASHES = ["solid", "dash", "dot", "dashdot", "longdash", "longdashdot"];
const LINES = DASHES.length;
const SETTLE_MS = 250;
const PANEL_PX = 300;
const LEGEND_ROW_PX = 44;
const NARROW_PX = 700;
// No axis shows less than this: the noise of a probe must not look like a storm.
const LEAST_SPAN = { Temperature: 2, "Relative humidity": 5 };

const asked = new URLSearchParams(place.dataset.query);
const inFahrenheit = place.dataset.fahrenheit === "1";
const whole = [Number(asked.get("from")), Number(asked.get("until"))];
const TICKS = [
  { dtickrange: [null, 60_000], value: "%H:%M:%S\n%e %b" },
  { dtickrange: [60_000, 86_400_000], value: "%H:%M\n%e %b" },
  { dtickrange: [86_400_000, "M1"], value: "%e %b\n%Y" },
  { dtickrange: ["M1", null], value: "%b\n%Y" },
];
let offsets = [[0, 0]];
let known = [0, 0];
let wholeRange = [];
let shown = whole;
let waiting = 0;
let turn = 0;

function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

function faint(hex) {
  const part = (from) => parseInt(hex.slice(from, from + 2), 16);
  return `rgba(${part(1)}, ${part(3)}, ${part(5)}, 0.25)`;
}

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

function utc(localText) {
  const wallMs = Date.parse(`${String(localText).replace(" ", "T").slice(0, 23)}Z`);
  return wallMs - offsetAt(wallMs - offsetAt(wallMs));
}

function inUnit(quantity, value) {
  return inFahrenheit && quantity.endsWith("temperature") && value !== null ? (value * 9) / 5 + 32 : value;
}

function unitOf(quantity) {
  if (quantity.endsWith("temperature")) {
    return inFahrenheit ? "°F" : "°C";
  }
  return quantity === "relative_humidity" ? "%" : "";
}

// What shares an axis. A contact has two words instead of figures.
const CONTACTS = { Mains: ["absent", "present"], Door: ["closed", "open"] };
const SORTS = { air_temperature: "Temperature", surface_temperature: "Temperature", relative_humidity: "Relative humidity", mains: "Mains", door: "Door" };
const sortOf = (quantity) => SORTS[quantity];

// Stretches that one line may join. A step that is too long to stand for anything begins a new one.
function runs(buckets) {
  const found = [];
  buckets.good.forEach((good, n) => {
    if (good && (buckets.gap_before[n] || !found.length)) {
      found.push([]);
    }
    if (good) {
      found.at(-1).push(n);
    }
  });
  return found;
}

// The ends of an axis: what is good in view, with some air. Suspect values do not stretch it.
function axisRange(sort, many) {
  if (sort in CONTACTS) {
    return [-0.15, 1.15];
  }
  const ends = many.flatMap(({ quantity, buckets }) => [...buckets.least, ...buckets.most].filter((each) => each !== null).map((each) => inUnit(quantity, each)));
  const [least, most] = ends.length ? [Math.min(...ends), Math.max(...ends)] : [0, 1];
  const half = Math.max((most - least) * 1.16, LEAST_SPAN[sort]) / 2;
  return [(least + most) / 2 - half, (least + most) / 2 + half];
}

// Where all lines are of one incubator its name says nothing; a small screen has two lines for a name.
function nameOf(series, groups) {
  const name = groups > 1 ? `${series.group}: ${series.name}` : series.name;
  return place.parentElement.clientWidth < NARROW_PX ? plain(name).replace(/ \((?=[^(]*$)/, "<br>(") : plain(name);
}

function traces(series, number, axis, name, range) {
  const { buckets, quantity } = series;
  const value = (column, n) => inUnit(quantity, buckets[column][n]);
  const at = (n) => local((buckets.first_ms[n] + buckets.last_ms[n]) / 2);
  const ink = colour(`--line-${(number % LINES) + 1}`);
  const band = { x: [], y: [] };
  const line = { x: [], y: [], customdata: [] };
  for (const run of runs(buckets)) {
    for (const n of run) {
      line.x.push(at(n));
      line.y.push(value("mean", n));
      line.customdata.push([value("least", n), value("most", n), buckets.good[n]]);
    }
    for (const [column, order] of [["most", run], ["least", [...run].reverse()]]) {
      for (const n of order) {
        band.x.push(at(n));
        band.y.push(value(column, n));
      }
    }
    for (const part of [line, band]) {
      part.x.push(part.x.at(-1));
      part.y.push(null);
    }
    line.customdata.push([null, null, null]);
  }
  const common = { xaxis: "x", yaxis: axis, legendgroup: series.channel, name };
  const unit = unitOf(quantity);
  const mode = line.y.length < 400 ? "lines+markers" : "lines";
  const found = [
    { ...common, ...band, type: "scatter", mode: "lines", fill: "toself", fillcolor: faint(ink), line: { width: 0.5, color: ink }, hoverinfo: "skip", showlegend: false },
    {
      ...common, ...line, type: "scatter", mode, connectgaps: false,
      line: { color: ink, width: 1.8, dash: DASHES[number % LINES] }, marker: { color: ink, size: 3 },
      hovertemplate: `%{y:.1f} ${unit} (%{customdata[0]:.1f} to %{customdata[1]:.1f}, n=%{customdata[2]})<extra>${name}</extra>`,
    },
  ];
  const suspects = buckets.suspect.map((count, n) => (count ? n : -1)).filter((n) => n >= 0);
  if (suspects.length) {
    const inside = (each) => Math.min(Math.max(each, range[0]), range[1]);
    found.push({
      ...common, type: "scatter", mode: "markers", name: "Suspect readings", showlegend: false, cliponaxis: false,
      x: suspects.map((n) => local(buckets.start_ms[n] + series.width_ms / 2)),
      y: suspects.map((n) => inside(value("suspect_most", n))),
      customdata: suspects.map((n) => [buckets.suspect[n], value("suspect_least", n), value("suspect_most", n)]),
      marker: { symbol: "x-thin", size: 9, line: { width: 2, color: colour("--ink") } },
      hovertemplate: `%{customdata[0]} suspect: %{customdata[1]:.1f} to %{customdata[2]:.1f} ${unit}<extra></extra>`,
    });
  }
  return found;
}

// The library reads a few tags in texts; a name is only text.
const plain = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll("%{", "% {");

function layout(sorts, ranges) {
  const narrow = place.parentElement.clientWidth < NARROW_PX;
  const [ink, paper, rule] = ["--ink", "--paper", "--rule"].map(colour);
  const each = 1 / sorts.length;
  const axis = { gridcolor: rule, zeroline: false, linecolor: ink, automargin: true };
  const found = {
    paper_bgcolor: paper, plot_bgcolor: paper, font: { color: ink, size: 13, family: "system-ui, sans-serif" },
    margin: { l: 48, r: 12, t: 34, b: 40 }, hovermode: "x", dragmode: "zoom", showlegend: true,
    legend: { orientation: "h", x: 0, y: -0.12, yanchor: "top", itemwidth: 40 },
    hoverlabel: { bgcolor: paper, bordercolor: ink, font: { color: ink }, namelength: 0 },
    xaxis: {
      ...axis, type: "date", tickangle: 0, nticks: narrow ? 6 : 10, tickformatstops: TICKS, range: shown.map(local), anchor: sorts.length > 1 ? `y${sorts.length}` : "y", hoverformat: "%e %b %Y, %H:%M",
    },
  };
  sorts.forEach((sort, n) => {
    const unit = sort in CONTACTS ? "" : sort === "Temperature" ? unitOf("air_temperature") : "%";
    found[`yaxis${n ? n + 1 : ""}`] = {
      ...axis, domain: [1 - (n + 1) * each + (n + 1 < sorts.length ? 0.05 : 0), 1 - n * each], anchor: "x", range: ranges[n], nticks: 6,
      ...(sort in CONTACTS ? { tickvals: [0, 1], ticktext: CONTACTS[sort] } : {}),
      title: { text: unit ? `${sort}, ${unit}` : sort, standoff: 4 }, fixedrange: true,
    };
  });
  return found;
}

function draw(answer) {
  // A part that is zoomed into needs no other clock than the whole, by which the way back is known again.
  if (answer.from_ms < known[0] || answer.until_ms > known[1]) {
    offsets = answer.utc_offsets;
    known = [answer.from_ms, answer.until_ms];
    wholeRange = whole.map(local);
  }
  const sorts = [...new Set(answer.series.map((series) => sortOf(series.quantity)))];
  const ranges = sorts.map((sort) => axisRange(sort, answer.series.filter((series) => sortOf(series.quantity) === sort)));
  const groups = new Set(answer.series.map((series) => series.group)).size;
  const data = answer.series.flatMap((series, number) => {
    const n = sorts.indexOf(sortOf(series.quantity));
    return traces(series, number, n ? `y${n + 1}` : "y", nameOf(series, groups), ranges[n]);
  });
  place.hidden = false;
  const height = PANEL_PX * sorts.length + LEGEND_ROW_PX * answer.series.length + 60;
  const options = { displaylogo: false, responsive: true, displayModeBar: true, modeBarButtons: [["zoomIn2d", "zoomOut2d", "resetScale2d", "toImage"]], toImageButtonOptions: { filename: "chart", scale: 2 } };
  return globalThis.Plotly.react(place, data, { ...layout(sorts, ranges), height }, options);
}

async function fetchAndDraw() {
  const mine = ++turn;
  const query = new URLSearchParams(asked.getAll("channel").map((channel) => ["channel", channel]));
  const [from, until] = shown.map((each) => String(Math.round(each)));
  query.append("from", from);
  query.append("until", until);
  const csv = new URLSearchParams(query);
  csv.append("width", "2000");
  query.append("width", String(Math.min(2000, Math.max(100, drawings.parentElement.clientWidth))));
  const answer = await fetch(`/api/series?${query}`);
  const found = await answer.json();
  if (mine !== turn) {
    return;
  }
  if (!answer.ok) {
    throw new Error(found.detail ?? "The readings could not be fetched.");
  }
  await draw(found);
  document.getElementById("export-csv").href = `/api/series.csv?${csv}`;
  place.dataset.shown = shown.join(" ");
  place.dataset.points = String(Math.max(0, ...found.series.map((series) => series.buckets.good.length)));
  said.textContent = "";
}

function failed(error) {
  said.textContent = `The chart could not be brought up to date (${error.message}). What is shown is older; load the page again.`;
}

// The two ends in UTC; those of the whole exactly, since they are the ones that were asked for.
function back(range) {
  const found = range.map(utc);
  return wholeRange.every((each, n) => Math.abs(utc(each) - found[n]) < 1000) ? whole : found;
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
  shown = next[1] - next[0] < 1000 ? [next[0], next[0] + 1000] : next;
  clearTimeout(waiting);
  waiting = setTimeout(() => fetchAndDraw().catch(failed), SETTLE_MS);
}

if (globalThis.Plotly) {
  fetchAndDraw()
    .then(() => {
      drawings.hidden = true;
      place.on("plotly_relayout", moved);
      matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => fetchAndDraw().catch(failed));
    })
    .catch((error) => {
      place.hidden = true;
      failed(error);
    });
}
