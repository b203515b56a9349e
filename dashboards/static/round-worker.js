// Lets the pages of a round be opened again without a connection. What the service answers always comes first; what is
// kept is shown only where nothing answers. It looks after the pages of rounds and what they are drawn with. Of the ways
// to a round (the first page, the list of rounds, the summary) it keeps nothing: where a request for one of them fails,
// a small page says so and leads back to the walk. It looks after nothing else.

const PREFIX = "clutchwarden-rounds-";
const CACHE = `${PREFIX}${VERSION}`;
const PATIENCE_MS = 6_000;
// Bad Gateway, Service Unavailable, Gateway Timeout (RFC 9110): something in between says that nothing answers.
const NOBODY_THERE = [502, 503, 504];
// Forbidden, Not Found (RFC 9110).
const GONE = [403, 404];
// A round lasts less than an hour (project choice).
const DAY_MS = 86_400_000;
const WALK = new RegExp(`^${ROUNDS}/[0-9,]+`);
const SUMMARY = new RegExp(`^${ROUNDS}/[0-9,]+/summary$`);
const DRAWN_WITH = [...new Set(KEPT.map((each) => each.split("?")[0]))];
const NETWORK_ALONE = "";
// What each page is drawn with comes from one version: the cache that the page came from, by the page's id; or the network
// alone for a page of another version. Of one that is not here the marks tell, as far as it asks for one that differs.
const drawnFrom = new Map();
// By address: how often in a row.
const sentPast = new Map();
const MOST_TIMES = 3;

self.addEventListener("install", (event) => {
  event.waitUntil(letOthersPass(event));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(KEPT)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(movedOn().catch(() => {}).then(() => self.clients.claim()));
});

// Whatever is asked for elsewhere need not wait until this script has been started, in browsers that can be told so.
async function letOthersPass(event) {
  const ours = ["/", ROUNDS, `${ROUNDS}/*`, ...DRAWN_WITH].map((pathname) => ({ urlPattern: { pathname, search: "*" } }));
  try {
    await event.addRoutes?.([
      { condition: { or: ours }, source: "fetch-event" },
      { condition: { urlPattern: { pathname: "/*", search: "*" } }, source: "network" },
    ]);
  } catch {
    // All comes through here then, and what is not looked after passes all the same.
  }
}

// Walks that are open are kept by the newer version too.
async function movedOn() {
  const now = await caches.open(CACHE);
  const walks = (await self.clients.matchAll({ includeUncontrolled: true })).map((each) => WALK.exec(new URL(each.url).pathname)?.[0]);
  await Promise.all([...new Set(walks)].filter(Boolean).map((walk) => keep(now, walk)));
  await olderGiveWay();
}

// What an older version kept stays until the service has given its walks anew, for no longer than a round is of use: its
// pages are drawn with what lies beside them.
async function olderGiveWay() {
  const now = await caches.open(CACHE);
  await Promise.all((await older()).map((name) => giveWay(name, now)));
}

// Caches come in the order in which they were made: that of a version which is just being installed is after this one's.
async function older() {
  const names = (await caches.keys()).filter((name) => name.startsWith(PREFIX));
  return names.slice(0, names.indexOf(CACHE));
}

async function giveWay(name, now) {
  const before = await caches.open(name);
  const isDone = await Promise.all((await walksIn(before)).map((each) => isNeededNoMore(each, before, now)));
  if (isDone.every(Boolean)) {
    await caches.delete(name);
  }
}

async function isNeededNoMore(request, before, now) {
  const age_ms = Math.abs(Date.now() - Date.parse((await before.match(request))?.headers.get("Date")));
  const path = new URL(request.url).pathname;
  if (age_ms < DAY_MS && !(await now.match(path)) && !(await keep(now, path))) {
    return false;
  }
  await before.delete(request);
  return true;
}

async function walksIn(cache) {
  return (await cache.keys()).filter((each) => WALK.test(new URL(each.url).pathname));
}

self.addEventListener("message", (event) => {
  const walk = WALK.exec(event.data?.keep ?? "");
  if (walk) {
    event.waitUntil(caches.open(CACHE).then((cache) => keep(cache, walk[0])).then(olderGiveWay));
  }
});

// As ends-after.js, which not every browser lets a worker load.
function endsAfter(ms) {
  const end = new AbortController();
  setTimeout(() => end.abort(), ms);
  return end.signal;
}

// Whether the service has said what there is of it: a page, none any more, or that nobody is signed in.
async function keep(cache, path) {
  try {
    // Not without an end: a worker that has just come answers nobody until this is done.
    const answer = await fetch(path, { redirect: "manual", cache: "no-store", signal: endsAfter(PATIENCE_MS) });
    if (answer.ok) {
      await cache.put(path, answer);
    }
    return answer.ok || answer.type === "opaqueredirect" || GONE.includes(answer.status);
  } catch {
    return false; // It stays as it was.
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) {
    return;
  }
  const walk = WALK.exec(address.pathname);
  const isWayToOne = ["/", ROUNDS].includes(address.pathname) || SUMMARY.test(address.pathname);
  if (request.mode === "navigate" && isWayToOne) {
    const asked = askedOf(request);
    event.respondWith(orNoConnection(asked, event));
    event.waitUntil(asked.then(olderGiveWay).catch(() => {}));
  } else if (request.mode === "navigate" && walk) {
    event.respondWith(page(event, walk[0]));
  } else if (DRAWN_WITH.includes(address.pathname) && mayBeKept(event.clientId, address)) {
    event.respondWith(drawnWith(request, drawnFrom.get(event.clientId)));
  }
});

function mayBeKept(client, address) {
  if (!drawnFrom.has(client) && !KEPT.includes(address.pathname + address.search)) {
    drawnFrom.set(client, NETWORK_ALONE);
  }
  return drawnFrom.get(client) !== NETWORK_ALONE;
}

// A password that something in between wants (RFC 7617) is asked of people only past a worker: this one goes, and comes
// again with the next page of rounds. An open page that has just done so leads here once more, but not for ever.
async function askedOf(request) {
  const answer = await fetch(request);
  const times = sentPast.get(request.url) ?? 0;
  sentPast.delete(request.url);
  if (answer.status !== 401 || !answer.headers.has("WWW-Authenticate") || times === MOST_TIMES) {
    return answer;
  }
  sentPast.set(request.url, times + 1);
  await self.registration.unregister();
  return Response.redirect(request.url);
}

// Only where no answer can come: one that is late, or says that something is wrong, is an answer.
async function orNoConnection(asked, event) {
  try {
    return await asked;
  } catch {
    drawnFrom.set(event.resultingClientId, CACHE);
    const headers = { ...HEADERS, "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store" };
    return new Response(NO_CONNECTION, { status: 503, headers });
  }
}

async function page(event, path) {
  const asked = askedOf(event.request);
  const answer = await inTime(asked);
  const kept = isNobody(answer) ? await found(path) : undefined;
  if (kept) {
    drawnFrom.set(event.resultingClientId, kept.name);
    return kept.answer;
  }
  if (answer?.type === "opaqueredirect") {
    await forgetPages();
  }
  return answer ?? orNoConnection(asked, event);
}

// Nobody is signed in any more: what was kept for whoever was goes away. Entries are kept elsewhere.
async function forgetPages() {
  try {
    for (const name of [CACHE, ...(await older())]) {
      const cache = await caches.open(name);
      for (const each of await walksIn(cache)) {
        await cache.delete(each);
      }
    }
  } catch {
    // What cannot be reached is shown to nobody.
  }
}

async function drawnWith(request, from) {
  const kept = from && (await found(request, [from]));
  if (kept) {
    return kept.answer;
  }
  const asked = fetch(request);
  const answer = await inTime(asked);
  // Where nothing is kept, one that is late is waited for.
  return (isNobody(answer) && (await found(request, [CACHE]))?.answer) || (answer ?? asked);
}

// In the newest one that has it. A browser whose storage fails keeps nothing; what it asks the service for comes all the
// same.
async function found(asked, names) {
  try {
    for (const name of names ?? [CACHE, ...(await older()).reverse()]) {
      const answer = await caches.match(asked, { cacheName: name });
      if (answer) {
        return { answer, name };
      }
    }
  } catch {
    // Nothing is found.
  }
  return undefined;
}

function isNobody(answer) {
  return !answer || NOBODY_THERE.includes(answer.status);
}

// Gives nothing where no answer has come in time, or at all.
function inTime(asked) {
  return Promise.race([asked.catch(() => undefined), new Promise((go) => { setTimeout(go, PATIENCE_MS); })]);
}
