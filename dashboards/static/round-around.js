// What stands around a walk: what this browser keeps of others, and what is said once the time of a round is over.

import { mark } from "./round-entered.js";

const DAY_MS = 86_400_000;
const WORKER = "/rounds/worker.js";
// Not before the page has come to it by itself.
let wasAsked = false;

// A round lasts less than an hour, and a walk has many bytes. What was kept for somebody else is not for whoever is here.
export async function forgetOldWalks(store, numbers, who) {
  for (const walk of await store.all("walks")) {
    if (walk.id !== numbers && (walk.who !== who || !(walk.kept_ms > Date.now() - DAY_MS))) {
      await store.remove("walks", walk.id);
    }
  }
}

// Whoever has ended a round is not asked to go on with it.
export async function noteEnd(store, numbers) {
  const walk = await store.get("walks", numbers);
  if (walk) {
    await store.put("walks", { ...walk, is_ended: true });
  }
}

// Lets the pages be opened without a connection; browsers allow that by https, and on the machine itself.
export async function letItBeOpenedAnyTime(page) {
  if (!navigator.serviceWorker) {
    return;
  }
  wasAsked = true;
  try {
    // Whoever has no connection opens what they have a sign for, which is the first page.
    const registration = await navigator.serviceWorker.register(WORKER, { scope: "/" });
    await dropNarrower();
    if (page) {
      (await activeOf(registration)).postMessage({ keep: page });
    }
  } catch {
    // Without it the open page goes on all the same.
  }
}

// Of this registration: what is ready for the page may be one that is gone.
async function activeOf(registration) {
  const coming = registration.installing ?? registration.waiting;
  if (!registration.active && coming) {
    await new Promise((done) => {
      coming.addEventListener("statechange", () => ["activated", "redundant"].includes(coming.state) && done());
    });
  }
  return registration.active;
}

// One that an older version has left here would go on looking after less.
async function dropNarrower() {
  for (const each of await navigator.serviceWorker.getRegistrations()) {
    if (new URL(each.scope).pathname !== "/" && each.active?.scriptURL.endsWith(WORKER)) {
      await each.unregister();
    }
  }
}

// Whoever was slow when the page came may be quick by now, and a sign-in in another tab takes the worker away with what
// it kept. Gives a promise that nobody has to wait for.
export async function keepAnew(page) {
  try {
    if (!wasAsked) {
      return;
    }
    const registration = await navigator.serviceWorker.getRegistration("/");
    if (!registration) {
      await letItBeOpenedAnyTime(page);
    } else if (!(await caches.match(page))) {
      registration.active?.postMessage({ keep: page });
    }
  } catch {
    // Asked again the next time.
  }
}

// Whether an entry is of these rounds; the same boxes stand in the ones before.
export function isOf(numbers, entry) {
  return numbers.split(",").includes(String(entry.round));
}

// Changes what is in a place, and leaves whoever goes by keyboard at the same control of what is there then, unless it is
// of something else: a button pressed twice answers one box.
export function keepingFocus(place, change, isSame = true) {
  const sign = (one) => [one.localName, one.name, one.getAttribute("value"), one.id, one.name ? "" : one.textContent.trim()].join();
  const before = isSame && place.contains(document.activeElement) ? sign(document.activeElement) : "";
  change();
  const all = [...place.querySelectorAll("a, button, input, select, textarea, summary")];
  before && all.find((one) => sign(one) === before)?.focus({ preventScroll: true });
}

// The service says when, by its own clock; without a connection the one of this phone has to do. `over`: null where
// nothing is known beside what the page itself says.
export function showOver(over) {
  const place = document.getElementById("over");
  const lines = (over ?? []).filter((each) => each.is_over || Date.now() >= each.until_ms).map((each) => each.words);
  if (over === null || JSON.stringify(lines) === place.dataset.shown) {
    return;
  }
  place.dataset.shown = JSON.stringify(lines);
  place.replaceChildren(...lines.map((text) => {
    const line = document.createElement("p");
    line.className = "caution";
    line.setAttribute("role", "note");
    line.append(mark("caution"), ` ${text}`);
    return line;
  }));
}
