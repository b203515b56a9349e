// The pages around a walk: what waits in this browser is told there, and sent.

import { forgetOldWalks, noteEnd } from "./round-around.js";
import { Saved } from "./round-saved.js";
import { Sender } from "./round-send.js";

export function whoIsHere(main) {
  return { who: main.dataset.who, guard: main.dataset.guard, may: Boolean(main.dataset.may), isDemo: Boolean(main.dataset.demo) };
}

// `onMoved` is given what to do once there is a database again.
export async function showWhatWaits(store, main, me, onMoved) {
  const numbers = main.dataset.walk;
  const saved = new Saved(document.getElementById("saved"), new Sender(store, me, () => show()), !numbers);
  const show = async () => saved.show(await store.all("entries"), await store.all("photos"), me.who);
  onMoved(() => saved.sender.soon());
  await show();
  await forgetOldWalks(store, numbers, me.who);
  main.dataset.ended && (await noteEnd(store, numbers));
  saved.sender.soon();
}
