//! One test binary for the room.

mod inverse;
mod verdict;
