// A signal that ends what it is given to after a time. Phones that get no newer browser do not have the browser's own.

export function endsAfter(ms) {
  if (AbortSignal.timeout) {
    return AbortSignal.timeout(ms);
  }
  const end = new AbortController();
  setTimeout(() => end.abort(), ms);
  return end.signal;
}
