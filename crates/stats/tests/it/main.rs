//! The tests of the room.
