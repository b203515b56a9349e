// After a change of the set-up the service starts anew. Once it has, this page is loaded again, so that it shows what
// was saved; where somebody is typing into it meanwhile, it waits for them.

import { endsAfter } from "./ends-after.js";

const EVERY_MS = 1_000;
const WAIT_MS = 5_000;
const GIVEN_UP_MS = 60_000;

const made = document.getElementById("said").dataset.made;
const begun = performance.now();

function wasChanged(field) {
  if (field instanceof HTMLSelectElement) {
    return [...field.options].some((option) => option.selected !== option.defaultSelected);
  }
  return field.type === "checkbox" ? field.checked !== field.defaultChecked : field.value !== field.defaultValue;
}

function isBeingFilled() {
  const fields = [...document.querySelectorAll("main input, main select, main textarea")];
  return fields.some((field) => field === document.activeElement || (field.type !== "hidden" && wasChanged(field)));
}

async function isNew() {
  try {
    const wish = { cache: "no-store", signal: endsAfter(WAIT_MS) };
    const answer = await fetch(location.pathname + location.search, wish);
    const next = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("said");
    return answer.ok && !answer.redirected && next !== null && next.dataset.made !== made;
  } catch {
    // It is on its way down or up.
    return false;
  }
}

async function look() {
  if (!isBeingFilled() && (await isNew()) && !isBeingFilled()) {
    location.reload();
  } else if (isBeingFilled() || performance.now() - begun < GIVEN_UP_MS) {
    setTimeout(look, EVERY_MS);
  }
}

setTimeout(look, EVERY_MS);
