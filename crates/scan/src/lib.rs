//! What was recorded: scans, techniques, and reading text of any dialect.
