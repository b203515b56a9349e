// One after the other: what an entry corrects is known only when the one before it is kept.

export class Turns {
  last = Promise.resolve();
  open = new Set();

  // Until an entry is kept the controls say more than what is kept.
  get areOpen() {
    return this.open.size > 0;
  }

  // `work` is given what it calls once its entry is kept.
  take(work) {
    const one = {};
    const kept = () => this.open.delete(one);
    const step = () => Promise.resolve(kept).then(work).finally(kept);
    this.open.add(one);
    this.last = this.last.then(step, step);
    return this.last;
  }
}

// Takes what is pressed once while it is worked on, and nothing within so many milliseconds of what was pressed before.
export class Presses {
  constructor(pauseMs = 0) {
    this.pauseMs = pauseMs;
    this.lastAt = -Infinity;
    this.open = new Set();
  }

  take(what, work) {
    const now = performance.now();
    if (now - this.lastAt < this.pauseMs || this.open.has(what)) {
      return;
    }
    this.lastAt = now;
    this.open.add(what);
    work().finally(() => this.open.delete(what));
  }
}

// Does its work again for whoever asked in the meantime, never twice at a time.
export function oneAtATime(work) {
  let isBusy = false;
  let isAsked = false;
  return async () => {
    isAsked = true;
    if (isBusy) {
      return;
    }
    isBusy = true;
    try {
      while (isAsked) {
        isAsked = false;
        await work();
      }
    } finally {
      isBusy = false;
    }
  };
}
