//! A folder of files becomes the chain's in-memory input.
