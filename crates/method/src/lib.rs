//! The method file, the run sheet, and the chain from scan to verdict.
