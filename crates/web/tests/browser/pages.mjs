// Every page there is, for scenarios that go through all of them.
export const PAGES = [
  "/", "/intake", "/scans", "/series/1/scans/60", "/series/1/scans/60/placing?peak_from=-0.70&peak_to=-0.52", "/signals", "/calibrations",
  "/calibrations/1", "/concentrations", "/results", "/results/4", "/results/4/budget", "/results/6/scans/120", "/ledger", "/keys", "/about", "/method", "/jobs",
  "/quality", "/quality/control", "/quality/lots", "/quality/validation", "/quality/comparison",
];
