// From the series of the server to what the drawing library takes: bands, lines, gaps, suspect readings, axes.

const DASHES = ["solid", "dash", "dot", "dashdot", "longdash", "longdashdot"];
const LINES = DASHES.length;
const NARROW_PX = 700;
const GAP_STEP_PX = 14;
// No axis shows less than this: the noise of a probe must not look like a storm.
const LEAST_SPAN = { Temperature: 2, "Relative humidity": 5 };
const TICKS = [
  { dtickrange: [null, 60_000], value: "%H:%M:%S\n%e %b" },
  { dtickrange: [60_000, 86_400_000], value: "%H:%M\n%e %b" },
  { dtickrange: [86_400_000, "M1"], value: "%e %b\n%Y" },
  { dtickrange: ["M1", null], value: "%b\n%Y" },
];
// What shares an axis. A contact has two words instead of figures.
const CONTACTS = { Mains: ["absent", "present"], Door: ["closed", "open"] };
const SORTS = { air_temperature: "Temperature", surface_temperature: "Temperature", relative_humidity: "Relative humidity", mains: "Mains", door: "Door" };

export const sortOf = (quantity) => SORTS[quantity];

function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

function faint(hex, part) {
  const of = (from) => parseInt(hex.slice(from, from + 2), 16);
  return `rgba(${of(1)}, ${of(3)}, ${of(5)}, ${part})`;
}

// The library reads a few tags in texts; a name is only text.
const plain = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll("%{", "% {");

// Stretches that one line may join. A step that is too long to stand for anything begins a new one.
function runs(buckets) {
  const found = [];
  buckets.good.forEach((good, n) => {
    if (good && (buckets.gap_before[n] || !found.length)) {
      found.push([]);
    }
    if (good) {
      found[found.length - 1].push(n);
    }
  });
  return found;
}

// Where no good reading is for longer than a line may be drawn over; what is to come is no gap.
export function gapsOf(buckets, fromMs, untilMs, bridgeMs) {
  const found = [];
  let beforeMs = fromMs;
  buckets.first_ms.forEach((firstMs, n) => {
    if (firstMs !== null) {
      if (firstMs - beforeMs > bridgeMs) {
        found.push([beforeMs, firstMs]);
      }
      beforeMs = Math.max(beforeMs, buckets.last_ms[n]);
    }
  });
  if (untilMs - beforeMs > bridgeMs) {
    found.push([beforeMs, untilMs]);
  }
  return found;
}

// `page`: what the drawing depends on besides the readings: {place, local, inFahrenheit, fromMs, nowMs, bridgeMs}.
export class Drawing {
  constructor(page, series) {
    this.page = page;
    this.series = series;
    this.sorts = [...new Set(series.map(({ quantity }) => sortOf(quantity)))];
    this.ranges = this.sorts.map((sort) => this.#axisRange(sort));
    this.manyGroups = new Set(series.map(({ group }) => group)).size > 1;
  }

  get isNarrow() {
    return this.page.place.parentElement.clientWidth < NARROW_PX;
  }

  data() {
    return this.series.flatMap((series, number) => this.#traces(series, number));
  }

  layout(shown) {
    const [ink, paper, rule] = ["--ink", "--paper", "--rule"].map(colour);
    const count = this.sorts.length;
    const axis = { gridcolor: rule, zeroline: false, linecolor: ink, automargin: true };
    const found = {
      paper_bgcolor: paper, plot_bgcolor: paper, font: { color: ink, size: 13, family: "system-ui, sans-serif" },
      margin: { l: 48, r: 12, t: 34, b: 40 }, hovermode: "x", dragmode: "zoom", showlegend: true,
      legend: { orientation: "h", x: 0, y: -0.12, yanchor: "top", itemwidth: 40 },
      hoverlabel: { bgcolor: paper, bordercolor: ink, font: { color: ink }, namelength: 0 },
      xaxis: {
        ...axis, type: "date", tickangle: 0, nticks: this.isNarrow ? 6 : 10, tickformatstops: TICKS, range: shown.map(this.page.local), anchor: count > 1 ? `y${count}` : "y", hoverformat: "%e %b %Y, %H:%M",
      },
    };
    this.sorts.forEach((sort, n) => {
      const unit = sort in CONTACTS ? "" : sort === "Temperature" ? this.#unitOf("air_temperature") : "%";
      found[`yaxis${n ? n + 1 : ""}`] = {
        ...axis, domain: [1 - (n + 1) / count + (n + 1 < count ? 0.05 : 0), 1 - n / count], anchor: "x", range: this.ranges[n], nticks: 6,
        ...(sort in CONTACTS ? { tickvals: [0, 1], ticktext: CONTACTS[sort] } : {}),
        title: { text: unit ? `${sort}, ${unit}` : sort, standoff: 4 }, fixedrange: true,
      };
    });
    return found;
  }

  #inUnit(quantity, value) {
    return this.page.inFahrenheit && quantity.endsWith("temperature") && value !== null ? (value * 9) / 5 + 32 : value;
  }

  #unitOf(quantity) {
    if (quantity.endsWith("temperature")) {
      return this.page.inFahrenheit ? "°F" : "°C";
    }
    return quantity === "relative_humidity" ? "%" : "";
  }

  // The ends of an axis: what is good in view, with some air. Suspect values do not stretch it.
  #axisRange(sort) {
    if (sort in CONTACTS) {
      return [-0.15, 1.15];
    }
    let [least, most] = [Infinity, -Infinity];
    for (const { quantity, buckets } of this.series.filter((each) => sortOf(each.quantity) === sort)) {
      for (const value of [...buckets.least, ...buckets.most]) {
        if (value !== null) {
          least = Math.min(least, this.#inUnit(quantity, value));
          most = Math.max(most, this.#inUnit(quantity, value));
        }
      }
    }
    if (most < least) {
      [least, most] = [0, 1];
    }
    const half = Math.max((most - least) * 1.16, LEAST_SPAN[sort]) / 2;
    return [(least + most) / 2 - half, (least + most) / 2 + half];
  }

  // Where all lines are of one incubator its name says nothing; a small screen has two lines for a name.
  #nameOf(series) {
    const name = plain(this.manyGroups ? `${series.group}: ${series.name}` : series.name);
    return this.isNarrow ? name.replace(/ \((?=[^(]*$)/, "<br>(") : name;
  }

  #traces(series, number) {
    const n = this.sorts.indexOf(sortOf(series.quantity));
    const name = this.#nameOf(series);
    const ink = colour(`--line-${(number % LINES) + 1}`);
    const common = { xaxis: "x", yaxis: n ? `y${n + 1}` : "y", legendgroup: series.channel, name, type: "scatter" };
    return [...this.#gaps(series, common, n, ink), ...this.#lines(series, number, common, ink), ...this.#suspects(series, common, this.ranges[n])];
  }

  #lines(series, number, common, ink) {
    const { buckets, quantity } = series;
    const value = (column, n) => this.#inUnit(quantity, buckets[column][n]);
    const at = (n) => this.page.local((buckets.first_ms[n] + buckets.last_ms[n]) / 2);
    const band = { x: [], y: [] };
    const line = { x: [], y: [], customdata: [] };
    for (const run of runs(buckets)) {
      for (const n of run) {
        line.x.push(at(n));
        line.y.push(value("mean", n));
        line.customdata.push([value("least", n), value("most", n), buckets.good[n], buckets.gap_inside[n] ? ", with a gap" : ""]);
      }
      for (const [column, order] of [["most", run], ["least", [...run].reverse()]]) {
        for (const n of order) {
          band.x.push(at(n));
          band.y.push(value(column, n));
        }
      }
      for (const part of [line, band]) {
        part.x.push(part.x[part.x.length - 1]);
        part.y.push(null);
      }
      line.customdata.push([null, null, null, ""]);
    }
    const mode = line.y.length < 400 ? "lines+markers" : "lines";
    return [
      { ...common, ...band, mode: "lines", fill: "toself", fillcolor: faint(ink, 0.25), line: { width: 0.5, color: ink }, hoverinfo: "skip", showlegend: false },
      {
        ...common, ...line, mode, connectgaps: false,
        line: { color: ink, width: 1.8, dash: DASHES[number % LINES] }, marker: { color: ink, size: 3 },
        hovertemplate: `%{y:.1f} ${this.#unitOf(quantity)} (%{customdata[0]:.1f} to %{customdata[1]:.1f}, n=%{customdata[2]}%{customdata[3]})<extra>${common.name}</extra>`,
      },
    ];
  }

  // Hatched, in a lane of its own where several lines share an axis. Unseen points along it say what it is.
  #gaps(series, common, n, ink) {
    const { page } = this;
    const gaps = gapsOf(series.buckets, page.fromMs, Math.min(page.nowMs, page.untilMs), page.bridgeMs);
    if (!gaps.length) {
      return [];
    }
    const sharing = this.series.filter((each) => sortOf(each.quantity) === this.sorts[n]);
    const [least, most] = this.ranges[n];
    const lane = (most - least) / sharing.length;
    const top = most - sharing.indexOf(series) * lane;
    const box = { x: [], y: [] };
    const points = { x: [], y: [], customdata: [] };
    const stepMs = ((page.untilMs - page.fromMs) / Math.max(page.place.parentElement.clientWidth, 200)) * GAP_STEP_PX;
    const told = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", timeZone: "UTC" });
    const words = (ms) => told.format(Date.parse(`${page.local(ms)}Z`));
    for (const [startMs, endMs] of gaps) {
      const [left, right] = [page.local(startMs), page.local(endMs)];
      box.x.push(left, right, right, left, left, left);
      box.y.push(top, top, top - lane, top - lane, top, null);
      const count = Math.max(1, Math.floor((endMs - startMs) / stepMs));
      for (let point = 0; point < count; point += 1) {
        points.x.push(page.local(startMs + ((endMs - startMs) * (point + 0.5)) / count));
        points.y.push(top - lane / 2);
        points.customdata.push(`${words(startMs)} to ${words(endMs)}`);
      }
    }
    return [
      {
        ...common, ...box, mode: "lines", line: { width: 0 }, fill: "toself", hoverinfo: "skip", showlegend: false,
        fillcolor: faint(ink, 0.08), fillpattern: { shape: "/", size: 7, solidity: 0.25, fgcolor: faint(ink, 0.75), bgcolor: faint(ink, 0.08), fillmode: "replace" },
      },
      {
        ...common, ...points, mode: "markers", marker: { color: ink, size: 6, opacity: 0 }, showlegend: false,
        hovertemplate: `No good readings: %{customdata}<extra>${common.name}</extra>`,
      },
    ];
  }

  #suspects(series, common, range) {
    const { buckets, quantity } = series;
    const value = (column, n) => this.#inUnit(quantity, buckets[column][n]);
    const suspects = buckets.suspect.map((count, n) => (count ? n : -1)).filter((n) => n >= 0);
    const inside = (each) => Math.min(Math.max(each, range[0]), range[1]);
    return !suspects.length ? [] : [{
      ...common, mode: "markers", name: "Suspect readings", showlegend: false, cliponaxis: false,
      x: suspects.map((n) => this.page.local(buckets.start_ms[n] + series.width_ms / 2)),
      y: suspects.map((n) => inside(value("suspect_most", n))),
      customdata: suspects.map((n) => [buckets.suspect[n], value("suspect_least", n), value("suspect_most", n)]),
      marker: { symbol: "x-thin", size: 9, line: { width: 2, color: colour("--ink") } },
      hovertemplate: `%{customdata[0]} suspect: %{customdata[1]:.1f} to %{customdata[2]:.1f} ${this.#unitOf(quantity)}<extra></extra>`,
    }];
  }
}
