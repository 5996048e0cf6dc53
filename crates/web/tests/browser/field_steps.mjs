// The steps of a strip, and of a whole run: in a file of its own, since the harness waits for the scenarios that need them.
export const stripOf = (code, file) => [["strip", code], ["temperature"], ["rinse"], ["apply"], ["start"], ["file", file]];
export const runOf = (well, ...strips) => [["well", well], ...strips.flatMap(([code, file]) => stripOf(code, file))];
