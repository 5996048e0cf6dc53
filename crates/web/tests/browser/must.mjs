// In a file of its own: the harness waits for the scenario, which therefore cannot wait for the harness.

/** @param {boolean} condition @param {string} words */
export function must(condition, words) {
  if (!condition) throw new Error(words);
}
