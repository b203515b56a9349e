// The page that stands in for the ways to a round where nothing answers: it leads back to the walks that this phone keeps,
// and says whose entries wait. It goes away by itself once the service answers.

import { endsAfter } from "./ends-after.js";
import { mark } from "./round-entered.js";
import { openStore } from "./round-store.js";

const LOOK_AGAIN_MS = 20_000;
const PATIENCE_MS = 6_000;
// As the worker has it: something in between says that nobody is there.
const NOBODY_THERE = [502, 503, 504];

// Whoever is on the way to a round, on a link that is weak, is not led back here; whoever has stopped that is, later.
const LONGEST_WAY_MS = 30_000;
let leftAt = -Infinity;

const places = { kept: document.getElementById("kept"), waits: document.getElementById("waits") };

async function show() {
  const [walks, entries, photos] = await Promise.all(["walks", "entries", "photos"].map((kind) => store.all(kind)));
  const found = [];
  for (const walk of walks.filter((each) => !each.is_ended).sort((one, other) => other.kept_ms - one.kept_ms)) {
    if (await isKept(`/rounds/${walk.id}`)) {
      found.push(walk);
    }
  }
  const said = `Your ${found.length === 1 ? "round is" : "rounds are"} kept in this phone: go on with ${found.length === 1 ? "it" : "one of them"}.`;
  places.kept.replaceChildren(...(found.length ? [part("p", said), ...found.map(wayTo)] : []));
  places.waits.replaceChildren(...waiting([...entries, ...photos]).map(([who, count]) => {
    const line = part("li", ` Waiting to be sent: ${count}${who ? `, by ${who}` : ""}. Kept in this phone.`);
    line.prepend(mark("gap"));
    return line;
  }));
  places.waits.hidden = !places.waits.childElementCount;
}

async function isKept(path) {
  try {
    return Boolean(await caches.match(path));
  } catch {
    return false;
  }
}

function wayTo(walk) {
  const link = part("a", walk.where?.length ? `Go on: ${walk.where.join(", ")}` : `Go on with round no. ${walk.id.replaceAll(",", ", ")}`);
  link.className = "far button go-on";
  link.href = `/rounds/${walk.id}`;
  const line = part("p", "");
  line.className = "one-button";
  line.append(link);
  return line;
}

function waiting(all) {
  const counts = new Map();
  for (const each of all.filter((one) => one.status === "waiting")) {
    counts.set(each.who, (counts.get(each.who) ?? 0) + 1);
  }
  return [...counts];
}

function part(kind, text) {
  const one = document.createElement(kind);
  one.textContent = text;
  return one;
}

// Any answer of the service will do: the page itself is asked for then.
async function lookAgain() {
  try {
    const answer = await fetch("/rounds/who", { headers: { Accept: "application/json" }, cache: "no-store", signal: endsAfter(PATIENCE_MS) });
    if (!NOBODY_THERE.includes(answer.status) && performance.now() - leftAt > LONGEST_WAY_MS) {
      location.reload();
    }
  } catch {
    // Still nobody.
  }
}

document.addEventListener("click", (event) => {
  if (event.target.closest("a[href]") && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
    leftAt = performance.now();
  }
});
window.addEventListener("online", lookAgain);
window.addEventListener("pageshow", (event) => {
  if (event.persisted) {
    leftAt = -Infinity;
    lookAgain();
  }
});
document.addEventListener("visibilitychange", () => document.hidden || lookAgain());
setInterval(() => document.hidden || lookAgain(), LOOK_AGAIN_MS);

const store = openStore(() => show());
await show();
