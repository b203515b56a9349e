// Keeps an open page true: hears when something has changed, fetches the page anew and exchanges its live parts.
// When nothing is heard the page says that it is cut off; an old page must not look like a good one.

import { endsAfter } from "./ends-after.js";

const SILENCE_MS = 12_000;
const RETRY_MS = 3_000;
const MARKED_MS = 15_000;
const LONGEST_PRESS_MS = 10_000;
const LONGEST_GOODBYE_MS = 30_000;

const cutOff = document.getElementById("cut-off");
const spoken = document.getElementById("spoken");
const signedOut = document.getElementById("signed-out");
let stream = null;
let heardAt = performance.now();
let fetching = false;
let isOver = false;
let wanted = "";
let readAt = new Date();
let markedAt = 0;
// When a button was pressed that is not let go yet: one that is exchanged in between hears no click.
let pressedAt = -Infinity;
// Whoever signs out goes by that button, and is not led back here.
let isLeaving = false;
// Parts that were left as they were, since somebody was filling them when a newer page came.
let leftOld = [];

function heard() {
  heardAt = performance.now();
}

function showCutOff(isCutOff) {
  if (isCutOff && cutOff.hidden) {
    document.getElementById("cut-off-since").textContent = readAt.toLocaleTimeString();
  }
  cutOff.hidden = !isCutOff;
  document.body.classList.toggle("is-cut-off", isCutOff);
}

// Where the session has ended the page must not go on looking like a good one. What somebody has typed is left to them.
function sayGoodbye() {
  const address = `/sign-in?to=${encodeURIComponent(location.pathname + location.search)}`;
  if (isOver || isLeaving) {
    return;
  }
  stream?.close();
  isOver = true;
  if ([...document.querySelectorAll("form, [data-typed]")].some(isBeingFilled)) {
    document.body.prepend(signedOut.content.cloneNode(true));
    document.getElementById("to-sign-in").href = address;
    document.body.classList.add("is-cut-off");
  } else {
    location.replace(address);
  }
}

// A person who has marked a text keeps it for as long as copying takes; then the exchange follows, marked or not. A
// long press on a tablet at the wall marks a word too, and must not keep its page old.
function isReading() {
  const selection = document.getSelection();
  return selection !== null && !selection.isCollapsed && performance.now() - markedAt < MARKED_MS;
}

function isPressed() {
  return performance.now() - pressedAt < LONGEST_PRESS_MS;
}

// What a person has typed stays, and so does what a refusal has filled in; the part is exchanged once it is sent.
function isBeingFilled(part) {
  return part.dataset.typed !== undefined || [...part.querySelectorAll("input, select, textarea")].some(
    (field) => field === document.activeElement || wasChanged(field),
  );
}

function wasChanged(field) {
  if (field instanceof HTMLSelectElement) {
    return [...field.options].some((option) => option.selected !== option.defaultSelected);
  }
  return field.type === "checkbox" ? field.checked !== field.defaultChecked : field.value !== field.defaultValue;
}

function exchange(next) {
  const focused = document.activeElement?.id;
  const open = new Map([...document.querySelectorAll("details[id]")].map((part) => [part.id, part.open]));
  const answer = document.getElementById("answer")?.textContent;
  leftOld = [];
  for (const part of next.querySelectorAll("[data-live]")) {
    const shown = document.getElementById(part.id);
    if (shown !== null && isBeingFilled(shown)) {
      leftOld.push(part.id);
    } else if (shown !== null) {
      shown.replaceWith(part);
    }
  }
  for (const part of document.querySelectorAll("details[id]")) {
    part.open = open.get(part.id) ?? part.open;
  }
  document.title = next.title;
  document.body.dataset.version = next.body.dataset.version;
  const said = document.getElementById("answer")?.textContent;
  if (said !== answer) {
    spoken.textContent = said;
  }
  if (focused) {
    document.getElementById(focused)?.focus({ preventScroll: true });
  }
}

async function refresh() {
  if (fetching || isOver || isReading() || isPressed()) {
    return;
  }
  fetching = true;
  try {
    const answer = await fetch(location.pathname + location.search, { cache: "no-store", signal: endsAfter(SILENCE_MS) });
    if (answer.redirected && ["/sign-in", "/welcome"].includes(new URL(answer.url).pathname)) {
      sayGoodbye();
    } else if (answer.ok) {
      const next = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (isPressed()) {
        return;
      }
      exchange(next);
      readAt = new Date();
      heard();
      showCutOff(false);
    }
  } catch {
    // The silence is noticed by the timer below.
  } finally {
    fetching = false;
  }
}

// A page that shows the newest version is true. Any other is fetched; only when that worked has the page been heard.
function compare(event) {
  wanted = event.data;
  if (wanted === document.body.dataset.version) {
    readAt = new Date();
    heard();
    showCutOff(false);
  }
  catchUp();
}

function catchUp() {
  if (isReading() || isPressed()) {
    heard();
  } else if (wanted && (wanted !== document.body.dataset.version || isFreeAgain())) {
    refresh();
  }
}

// True where a part that was left old is being filled no longer: it is to be exchanged now.
function isFreeAgain() {
  return leftOld.map((id) => document.getElementById(id)).some((part) => part !== null && !isBeingFilled(part));
}

function listen() {
  if (isOver) {
    return;
  }
  stream?.close();
  stream = new EventSource(document.body.dataset.events);
  stream.addEventListener("changed", compare);
  stream.addEventListener("same", compare);
  stream.addEventListener("signed-out", sayGoodbye);
  stream.addEventListener("error", () => {
    if (stream.readyState === EventSource.CLOSED && !isOver) {
      // A stream that is refused may mean that nobody is signed in any more; the page itself tells.
      refresh();
      setTimeout(listen, RETRY_MS);
    }
  });
}

document.addEventListener("visibilitychange", () => {
  if (document.hidden) {
    stream?.close();
  } else {
    listen();
    refresh();
  }
});
document.addEventListener("selectionchange", () => {
  markedAt = performance.now();
  if (!isReading()) {
    catchUp();
  }
});
function press() {
  pressedAt = performance.now();
}

function letGo() {
  if (isPressed()) {
    pressedAt = -Infinity;
    // Once the click that follows has been heard.
    setTimeout(catchUp);
  }
}

addEventListener("pointerdown", press);
addEventListener("pointerup", letGo);
addEventListener("pointercancel", letGo);
// The space bar presses a button as a finger does: it is heard when it is let go. One that lies on it presses once.
addEventListener("keydown", (event) => event.key === " " && !event.repeat && event.target.matches?.("button") && press());
addEventListener("keyup", (event) => event.key === " " && letGo());
document.getElementById("sign-out")?.form.addEventListener("submit", () => {
  isLeaving = true;
  stream?.close();
  // Whoever is still here then has stopped it, or got no answer.
  setTimeout(() => {
    isLeaving = false;
    listen();
  }, LONGEST_GOODBYE_MS);
});
document.addEventListener("focusout", () => setTimeout(() => leftOld.length && catchUp()));
setInterval(() => {
  if (!document.hidden && !isOver && performance.now() - heardAt > SILENCE_MS) {
    showCutOff(true);
  }
}, 1_000);

listen();
